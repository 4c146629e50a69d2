"""Circuits computed outside of Keyon, from the definitions alone: numpy for volts and amps, networkx for node states."""
