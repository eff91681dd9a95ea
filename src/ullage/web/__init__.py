"""The pages: what a browser asks, and what it gets back.

Pages are rendered here and work without JavaScript wherever nothing is live. Text becomes values
in ``forms``, values become text in ``shown``; nothing between the two knows a unit of a person.
"""
