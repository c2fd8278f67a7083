"""Views of the page: one folder a view, with its Python, template, script and style."""
