"""A part of the results object to a matplotlib Figure to SVG bytes; one file per chart."""
