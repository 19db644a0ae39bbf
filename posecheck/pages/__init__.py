"""Pages, pictures and annotated clips that open offline."""
