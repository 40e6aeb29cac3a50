"""The glossary: every public name with its symbol, internal unit and meaning. Data only, tested for completeness.

A symbol is written with one underscore before its index and may use Greek letters ('ε_fe', "f_c"); views turn it
into mathematics. Units are the internal ones (N, mm, MPa, degrees for named angles, '-' for ratios and strains).
"""

from __future__ import annotations

from dataclasses import dataclass

from cracktie.errors import UnknownName


@dataclass(frozen=True)
class Symbol:
    """One entry of the glossary."""

    name: str
    symbol: str
    unit: str
    meaning: str


_ROWS: tuple[tuple[str, str, str, str], ...] = (
    # section and member
    ("a", "a", "mm", "shear span, load centre to support centre"),
    ("b_w", "b_w", "mm", "web width"),
    ("b_flange", "b_fl", "mm", "flange width"),
    ("h", "h", "mm", "overall depth"),
    ("h_flange", "h_fl", "mm", "flange thickness"),
    ("d", "d", "mm", "effective depth of the tension bars"),
    ("z", "z", "mm", "lever arm of internal forces"),
    ("A_s", "A_s", "mm2", "area of the tension bars"),
    ("rho_l", "ρ_l", "-", "tension bar ratio A_s/(b_w d)"),
    ("M_V", "M/V", "mm", "moment over shear at the control section"),
    ("span_length", "L", "mm", "distance between supports"),
    # materials
    (
        "f_c",
        "f_c",
        "MPa",
        "concrete cylinder compressive strength: mean in the test form, characteristic or specified in the design form",
    ),
    ("f_ctm", "f_ctm", "MPa", "mean axial tensile strength of concrete"),
    ("f_ctk", "f_ctk", "MPa", "5 % fractile of the axial tensile strength of concrete"),
    ("E_c", "E_c", "MPa", "modulus of elasticity of concrete"),
    ("d_g", "d_g", "mm", "maximum aggregate size"),
    ("f_y", "f_y", "MPa", "yield strength of the tension bars"),
    ("f_yw", "f_yw", "MPa", "yield strength of the stirrups"),
    ("E_s", "E_s", "MPa", "modulus of elasticity of steel"),
    # stirrups
    ("A_sw", "A_sw", "mm2", "area of one stirrup set, all legs"),
    ("s_w", "s_w", "mm", "stirrup spacing along the axis"),
    ("alpha_w", "α_w", "deg", "angle of the stirrups to the axis"),
    # FRP
    ("t_f", "t_f", "mm", "thickness of one FRP ply"),
    ("n", "n", "-", "number of FRP plies"),
    ("w_f", "w_f", "mm", "strip width across the fibres"),
    ("s_f", "s_f", "mm", "strip spacing centre to centre along the axis"),
    ("beta", "β", "deg", "angle of the fibres to the axis"),
    ("E_f", "E_f", "MPa", "modulus of elasticity of the FRP"),
    ("f_fu", "f_fu", "MPa", "tensile strength of the FRP"),
    ("eps_fu", "ε_fu", "-", "ultimate strain of the FRP"),
    ("d_fv", "d_fv", "mm", "effective depth of the FRP: tension bars to the upper FRP edge"),
    ("h_frp", "h_frp", "mm", "height of the FRP on the web face"),
    ("z_t", "z_t", "mm", "depth of the upper FRP edge from the top face"),
    ("d_frp", "d_frp", "mm", "depth of the lower FRP edge from the top face"),
    ("C_E", "C_E", "-", "environmental reduction factor of the FRP, used in the design form only"),
    ("theta", "θ", "deg", "angle of the critical crack or strut to the axis"),
    # intermediates of the FRP shear models
    ("r_f", "w_f/s_f", "-", "strip width over spacing along the axis; sin β for a continuous sheet"),
    ("cover", "w_f/p_f", "-", "strip width over spacing across the fibres; 1 for a continuous sheet"),
    ("a_fv", "A_fv/s_f", "mm2/mm", "FRP area on both faces per length of axis"),
    ("a_fv_in", "A_fv/s_f,in", "in2/in", "FRP area on both faces per length of axis"),
    ("rho_f", "ρ_f", "-", "FRP ratio of the web, both faces"),
    ("eps_fu_d", "ε_fu,d", "-", "ultimate strain of the FRP after reduction"),
    ("eps_fe", "ε_fe", "-", "effective strain of the FRP"),
    ("eps_fe_cap", "ε_fe,max", "-", "largest effective strain the document allows"),
    ("f_fe", "f_fe", "MPa", "effective stress of the FRP"),
    ("f_fe_ksi", "f_fe,ksi", "ksi", "effective stress of the FRP"),
    ("L_e", "L_e", "mm", "effective bond length"),
    ("L_e_in", "L_e,in", "in", "effective bond length"),
    ("L_max", "L_max", "mm", "largest available bond length"),
    ("k_1", "k_1", "-", "concrete strength factor of the bond strain"),
    ("k_2", "k_2", "-", "wrap scheme factor of the bond strain"),
    ("k_v", "κ_v", "-", "bond reduction coefficient of the ultimate strain"),
    ("V_f_kip", "V_f,kip", "kip", "FRP contribution to the shear resistance"),
    ("f_c_psi", "f_c,psi", "psi", "concrete cylinder compressive strength"),
    ("E_f_psi", "E_f,psi", "psi", "modulus of elasticity of the FRP"),
    ("t_f_in", "t_f,in", "in", "thickness of one FRP ply"),
    ("d_fv_in", "d_fv,in", "in", "effective depth of the FRP"),
    ("z_b", "z_b", "mm", "depth of the lower end of the effective FRP"),
    ("h_fe", "h_fe", "mm", "effective height of the FRP"),
    ("sigma_rupture", "σ_rup", "MPa", "largest FRP stress at rupture"),
    ("f_fe_rupture", "f_fe,rup", "MPa", "effective FRP stress at rupture"),
    ("sigma_debonding", "σ_deb", "MPa", "largest FRP stress at debonding"),
    ("f_fe_d", "f_fe,d", "MPa", "design value of the effective FRP stress"),
    ("root_f_c", "√f_c", "MPa", "root of the concrete strength"),
    ("lambda_L", "λ_L", "-", "available over effective bond length"),
    ("lambda_1", "λ_1", "-", "available over effective bond length, at most 1"),
    ("beta_L", "β_L", "-", "bond length factor"),
    ("beta_w", "β_w", "-", "strip width factor"),
    ("D_f", "D_f", "-", "stress distribution factor of the FRP"),
    # words
    ("form", "form", "-", "test: mean strengths, factors 1; design: the document's own factors"),
    ("edition", "edition", "-", "unit system of the document's edition"),
    ("scheme", "scheme", "-", "wrap scheme: side, u or full"),
    ("layout", "layout", "-", "strips or continuous sheet"),
    ("anchored", "anchored", "-", "whether the free ends of the wrap are anchored"),
    # results
    ("V_c", "V_c", "N", "concrete contribution to the shear resistance"),
    ("V_s", "V_s", "N", "stirrup contribution to the shear resistance"),
    ("V_f", "V_f", "N", "FRP contribution to the shear resistance"),
    ("V_f_red", "V_f,red", "N", "FRP contribution times its member factor"),
    ("V_sf", "V_sf", "N", "stirrups and FRP together, held at their common cap"),
    ("V_sf_max", "V_sf,max", "N", "largest stirrup and FRP contribution together"),
    ("V_sf_max_lbf", "V_sf,max", "lbf", "largest stirrup and FRP contribution together"),
    ("V_R", "V_R", "N", "shear resistance"),
)

_BY_NAME = {row[0]: Symbol(*row) for row in _ROWS}


def symbol(name: str) -> Symbol:
    """Entry of a name; raises `UnknownName`."""
    try:
        return _BY_NAME[name]
    except KeyError:
        raise UnknownName(f"{name!r} has no entry in the glossary") from None


def known(name: str) -> bool:
    """Whether the glossary has the name."""
    return name in _BY_NAME


def plain(name: str) -> str:
    """Symbol as one line of text; the name itself where the glossary has none."""
    return _BY_NAME[name].symbol if name in _BY_NAME else name


def all_symbols() -> tuple[Symbol, ...]:
    """The whole glossary in its own order."""
    return tuple(_BY_NAME.values())
