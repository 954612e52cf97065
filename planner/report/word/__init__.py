"""The Word document: the report set into a template that a council can replace."""
