"""A notebook made again at each save, and the server that shows it."""
