"""How each document adds up its terms: from V_c, V_s and V_f to the shear resistance V_R."""
