"""The circuit as understood: what the file says is joined to what, drawn with what was found on every part."""
