"""Fits: nets by quantile regression, folds of bodies, conformal 90 % intervals."""
