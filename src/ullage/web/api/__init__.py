"""The app for programs: the same use cases as the pages, in JSON, with a description of themselves.

One module for each group of addresses, its pydantic models beside its routes. The app is put
together in ``served`` when the first program asks: pages do not wait for it.
"""
