"""The views of the page: a folder for each view, with its Python, template, script and style."""
