"""Makes posecheck's models: film whose truth is known, data sets, fits, scores and cards.

``python -m models --help`` lists the steps, ``recipe.toml`` holds every number that decides what
comes out. Nothing here is needed to use posecheck, and none of it is installed with it.
"""
