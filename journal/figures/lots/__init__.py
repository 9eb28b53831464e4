"""From a material's lot to the bars that hold it and back, how long they keep, what is left."""
