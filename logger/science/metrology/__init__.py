"""How well something is known: thermocouples, balances, uncertainties, decisions.

- ``its90``              emf of a thermocouple to temperature and back
- ``its90_curve``        the piecewise reference function of one type and its root finding
- ``its90_coefficients`` coefficients of types B, E, J, K, N, R, S, T
- ``tolerance``          how far new wire, or a platinum resistor, may be off
- ``balance``            how far a balance may be off
- ``reference_points``   melting ice, and water boiling at today's pressure
- ``uncertainty``        combining uncertainties by the GUM
- ``conformance``        is a limit met, given what is known of the value?
"""
