"""From the energy of one band to decay times: noise, curves, likelihood, combination."""
