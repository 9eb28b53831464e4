"""Pieces: cut from a mat, laid in a mould, worn by casting."""
