"""The page: everything in a browser, on this computer and on phones that were let in.

Requests of a browser come in, pages and answers go out.

May import: nothing of this project.
"""
