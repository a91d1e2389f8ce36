"""Samples become judgement: measures, findings, call list."""
