"""What all pages share: the book, addresses, words, editions."""
