"""The manual, one Markdown file per topic."""
