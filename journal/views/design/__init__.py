"""The pages of a design and of a question across designs."""
