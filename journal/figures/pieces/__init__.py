"""How pieces are cut from a mat and lie in a mould."""
