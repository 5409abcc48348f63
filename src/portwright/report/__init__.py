"""Printed pages for the customer and the bench."""
