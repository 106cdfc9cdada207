"""Absorbers and diffusers from first principles. Time convention exp(+jwt)."""
