"""Identification: colours, markings and labels against what the trace shows."""
