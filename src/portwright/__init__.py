"""Portwright: honest flow-bench results and records for people who port cylinder heads."""

__version__ = "0.1.0"
