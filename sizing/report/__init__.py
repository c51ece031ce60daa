"""Results as text, JSON, CSV and page: a room for each, one module a command.

`sentences` says what all of them say, `front` what stands first on a page. `text`, `records` (JSON and CSV)
and `html` set it out. A function is named after its command and what it returns: `strand_text`,
`strand_record`, `strand_rows`, `strand_page`.

May import: nothing of this project.
"""
