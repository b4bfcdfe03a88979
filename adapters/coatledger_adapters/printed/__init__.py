"""Things to print: sheets of labels, and documents of a page or a few."""
