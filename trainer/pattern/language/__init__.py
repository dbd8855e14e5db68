"""The pattern language: from the text of a pattern file to a Pattern."""
