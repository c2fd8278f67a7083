"""Parts of the page that several views share: one folder a widget."""
