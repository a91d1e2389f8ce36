"""Figures made for a finding."""
