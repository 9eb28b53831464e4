"""The soap design journal: write-ups in, an offline notebook and recipe cards out."""

__version__ = "0.1.0"
