"""The invented practice: rendered clips of two players with exact truth beside each."""
