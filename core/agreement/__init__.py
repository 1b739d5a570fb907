"""Agreement between raters: how far two measurements of the same limb differ, and why.

A table of ratings (``ratings``, or ``pairs`` from the shelf) goes through ``study.analyse``;
``overview``, ``words`` and ``document`` say the result in a row, in lines and as JSON.
``quantiles`` has the distributions behind the intervals.
"""
