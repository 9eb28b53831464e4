"""Commands that make paper: cards, labels, templates, sheets, orders."""
