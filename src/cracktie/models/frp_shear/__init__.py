"""FRP contribution to the shear resistance, one published rule per file. All give V_f in N.

`V_f` is the document's own term without the resistance factor or the member factor of its guideline set (phi, psi_f
of ACI, phi_FRP of CSA): those belong to the sum V_c + V_s + V_f and are exposed beside the models as plain functions.
"""
