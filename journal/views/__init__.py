"""Records and figures to pages: values that are ready to print, one builder a page."""
