"""Trains a small English speech model on synthetic voices: see README.md beside this file."""
