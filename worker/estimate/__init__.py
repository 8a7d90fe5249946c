"""Estimates of cutting data, forces, times and cost. Everything here is an estimate and says from what."""
