"""The first screen: the patients of the shelf, and the form for a new one."""
