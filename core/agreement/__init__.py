"""Agreement between raters: how far two measurements of the same limb differ, and why.

A table of ratings (``ratings``, or ``pairs`` from the shelf) goes through ``study.analyse``;
``words`` and ``document`` say the result in lines and as JSON. scipy is needed for intervals
only and is imported by the first of them (``quantiles``).
"""
