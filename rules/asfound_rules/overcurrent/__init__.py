"""Overcurrent: does what is ahead of a conductor protect it?"""
