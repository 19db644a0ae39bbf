"""Cards: what each model is and how far off it is, written from data frames."""
