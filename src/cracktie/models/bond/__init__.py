"""Bond between FRP and concrete: local laws (parameters tau_max, slip_0, slip_f, G_f) and strengths of joints."""
