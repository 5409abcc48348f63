"""Energy and gas constant of fresh charge and of burned gas, as tables made with Cantera."""
