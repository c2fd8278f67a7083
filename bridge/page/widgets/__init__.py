"""The widgets that several views share: a folder for each widget, with its Python, template, script and style."""
