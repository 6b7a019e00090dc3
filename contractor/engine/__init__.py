"""Layout, screening, cutting, rostering and movement as plain Python: values in, values out."""
