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
    ("r_corner", "r_c", "mm", "radius of the rounded corners under the wrap"),
    ("eta_a", "η_a", "-", "environmental conversion factor of the FRP, used in the design form only"),
    ("FC", "FC", "-", "confidence factor of the knowledge of the structure, used in the design form only"),
    ("fibre", "fibre", "-", "fibre of the FRP: carbon, glass or aramid"),
    ("frp_form", "frp form", "-", "sheet laid up wet or precured laminate"),
    ("f_cm", "f_cm", "MPa", "mean cylinder compressive strength of concrete"),
    ("theta", "θ", "deg", "angle of the critical crack or strut to the axis"),
    # intermediates of the FRP shear models
    ("r_f", "r_f", "-", "strip width over spacing along the axis; sin β for a continuous sheet"),
    ("cover", "r_p", "-", "strip width over spacing across the fibres; 1 for a continuous sheet"),
    ("a_fv", "a_f", "mm2/mm", "FRP area on both faces per length of axis"),
    ("a_fv_in", "a_f,in", "in2/in", "FRP area on both faces per length of axis"),
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
    ("X", "X", "-", "concrete strength to the 2/3 over FRP stiffness in GPa"),
    ("eps_rupture", "ε_rup", "-", "effective strain at FRP rupture"),
    ("eps_peeling", "ε_peel", "-", "effective strain at peeling"),
    ("gamma_f", "γ_f", "-", "partial factor of the FRP"),
    ("eps_fe_d", "ε_fe,d", "-", "design value of the effective strain"),
    ("k_b", "k_b", "-", "width factor of the bond"),
    ("Gamma_F", "Γ_F", "N/mm", "fracture energy of the bond"),
    ("f_fdd", "f_fdd", "MPa", "debonding stress of the FRP"),
    ("f_bd", "f_bd", "MPa", "bond strength"),
    ("l_ed", "l_ed", "mm", "bond length"),
    ("H", "H", "mm", "height in which the bond length is counted"),
    ("l_H", "l_ed/H", "-", "projected bond length over height"),
    ("phi_R", "φ_R", "-", "corner factor of the FRP strength"),
    ("f_fd", "f_fd", "MPa", "design strength of the FRP"),
    ("more_closed", "Δf_fe", "MPa", "stress a closed wrap adds beyond debonding"),
    ("E_fd", "E_fd", "MPa", "design modulus of the FRP"),
    ("f_ct", "f_ct", "MPa", "tensile strength of concrete as the document defines it"),
    ("eps_debonding", "ε_deb", "-", "effective strain at debonding"),
    ("l_t", "l_t", "mm", "anchorage length"),
    ("f_fu_d", "f_fu,d", "MPa", "design strength of the FRP"),
    ("f_cd", "f_cd", "MPa", "design strength of concrete"),
    ("R_sheet", "R", "-", "sheet stiffness and strength number"),
    ("K_sheet", "K", "-", "share of the sheet strength that counts in shear"),
    ("rho_E_f", "ρE_f", "GPa", "FRP ratio times modulus"),
    ("tE_f", "t E_f", "GPa mm", "FRP thickness times modulus"),
    ("w_fe", "w_fe", "mm", "effective FRP width"),
    ("R_rupture", "R_rup", "-", "effective stress over strength at rupture"),
    ("R_closed", "R_clo", "-", "effective stress over strength at rupture or loss of interlock"),
    ("R_bond", "R_bond", "-", "effective stress over strength at debonding"),
    ("R_f", "R_f", "-", "effective stress over strength of the FRP"),
    ("R_star", "R_s", "-", "reduction of the bond by stirrups"),
    ("rho_sf", "ρ_s,f", "-", "stirrup over FRP stiffness"),
    ("E_f_ksi", "E_f,ksi", "ksi", "modulus of elasticity of the FRP"),
    ("f_fu_ksi", "f_fu,ksi", "ksi", "tensile strength of the FRP"),
    ("rho_w", "ρ_w", "-", "stirrup ratio"),
    ("rho_E", "ρE", "GPa", "stiffness of FRP and stirrups"),
    ("beta_c", "β_c", "-", "crack pattern factor"),
    # intermediates of the concrete and stirrup terms
    ("a_clear", "a_clear", "mm", "clear shear span, edge of the loading plate to edge of the support plate"),
    ("l_load", "l_load", "mm", "length along the axis of the loading plate that serves the shear span"),
    ("l_support", "l_sup", "mm", "length of the support plate along the axis"),
    ("A_s_in2", "A_s,in²", "in2", "area of the tension bars"),
    ("A_sw_in2", "A_sw,in²", "in2", "area of one stirrup set, all legs"),
    ("M_V_in", "M/V_in", "in", "moment over shear at the control section"),
    ("b_w_in", "b_w,in", "in", "web width"),
    ("d_in", "d_in", "in", "effective depth of the tension bars"),
    ("d_g_in", "d_g,in", "in", "maximum aggregate size"),
    ("d_v_in", "d_v,in", "in", "effective shear depth"),
    ("s_w_in", "s_w,in", "in", "stirrup spacing along the axis"),
    ("f_c_ksi", "f_c,ksi", "ksi", "concrete cylinder compressive strength"),
    ("f_yw_ksi", "f_yw,ksi", "ksi", "yield strength of the stirrups"),
    ("f_yw_psi", "f_yw,psi", "psi", "yield strength of the stirrups"),
    ("root_f_c_psi", "√f_c", "psi", "root of the concrete strength"),
    ("f_yt", "f_yt", "MPa", "yield strength of the stirrups as far as it counts"),
    ("f_yt_psi", "f_yt,psi", "psi", "yield strength of the stirrups as far as it counts"),
    ("f_yd", "f_yd", "MPa", "design yield strength of the tension bars"),
    ("f_ywd", "f_ywd", "MPa", "design yield strength of the stirrups"),
    ("f_ce", "f_ce", "MPa", "concrete strength of a strut or node before its efficiency factor"),
    ("f_vc", "f_vc", "MPa", "shear strength number of concrete"),
    ("f_wc", "f_wc", "MPa", "diagonal crushing strength of the web"),
    ("legs", "sin α + cos α", "-", "factor of inclined stirrups"),
    ("cot_alpha", "cot α_w", "-", "cotangent of the stirrup angle"),
    ("cot_theta", "cot θ", "-", "cotangent of the strut angle"),
    ("cot_max", "cot θ_min", "-", "largest cotangent of the strut angle"),
    ("theta_strut", "θ_s", "deg", "angle of the direct strut to the tie"),
    ("w_support", "w_sup", "mm", "strut width at the support"),
    ("w_load", "w_load", "mm", "strut width at the load"),
    ("p_w", "p_w", "MPa", "stirrup force across the crack for each area of web at cot θ = 1"),
    ("p_c", "p_c", "MPa", "strut strength before softening by strain"),
    ("nu", "ν", "-", "strength reduction of concrete cracked in shear"),
    ("eta_cc", "η_cc", "-", "brittleness factor of the concrete strength"),
    ("eta_fc", "η_fc", "-", "brittleness factor of the concrete strength"),
    ("k_eps", "k_ε", "-", "softening of the struts by transverse strain"),
    ("k_size", "k", "-", "size factor"),
    ("lambda_s", "λ_s", "-", "size factor"),
    ("rho_l_eff", "ρ_l,eff", "-", "tension bar ratio as far as it counts"),
    ("v_c", "v_c", "MPa", "shear strength of concrete for each area b_w d"),
    ("v_c_psi", "v_c,psi", "psi", "shear strength of concrete for each area b_w d"),
    ("v_c_ab", "v_c,ab", "MPa", "shear strength of rows (a) and (b) of the table"),
    ("v_c_ab_psi", "v_c,ab", "psi", "shear strength of rows (a) and (b) of the table"),
    ("v_min", "v_min", "MPa", "least shear strength of concrete"),
    ("V_d_M", "V d/M", "-", "shear times effective depth over moment, at most 1"),
    ("tau_c", "τ_c", "MPa", "shear strength of concrete for each area b_w z"),
    ("tau_min", "τ_min", "MPa", "least shear strength of concrete for each area b_w z"),
    ("tau_sy", "τ_sy", "MPa", "shear strength of the stirrups for each area b_w z"),
    ("tau_max_strut", "τ_max", "MPa", "shear strength of the struts for each area b_w z"),
    ("d_dg", "d_dg", "mm", "crack roughness number of the aggregate"),
    ("d_g_eff", "d_g,eff", "mm", "aggregate size as far as it keeps cracks rough"),
    ("k_dg", "k_dg", "-", "aggregate factor"),
    ("a_cs", "a_cs", "mm", "effective shear span, moment over shear at the control section"),
    ("a_v", "a_v", "mm", "depth that stands for d in short effective shear spans"),
    ("d_v", "d_v", "mm", "effective shear depth"),
    ("s_ze", "s_ze", "mm", "equivalent crack spacing"),
    ("s_xe", "s_xe", "mm", "equivalent crack spacing"),
    ("s_xe_in", "s_xe,in", "in", "equivalent crack spacing"),
    ("eps_rate", "ε/V", "1/N", "longitudinal strain for each newton of shear force"),
    ("eps_rate_kip", "ε/V", "1/kip", "longitudinal strain for each kip of shear force"),
    ("eps_x", "ε_x", "-", "longitudinal strain at mid-depth"),
    ("eps_s", "ε_s", "-", "strain of the tension bars"),
    ("beta_d", "β_d", "-", "size factor"),
    ("beta_p", "β_p", "-", "bar ratio factor"),
    ("beta_av", "β_av", "-", "share of a load near the support that counts"),
    ("k_short", "k_short", "-", "gain of short shear spans"),
    ("k_rho", "k_ρ", "-", "bar ratio factor"),
    ("k_plate", "k_plate", "-", "loading plate factor"),
    ("stirrups_minimum", "A_sw ≥ min", "-", "whether the minimum stirrups of the document are there"),
    ("web_grid", "web grid", "-", "whether a grid of bars crosses the strut as the document asks"),
    ("V_c_0", "V_c,0", "N", "concrete contribution at zero strain"),
    ("V_c_0_kip", "V_c,0", "kip", "concrete contribution at zero strain"),
    ("V_c_root", "V_c,root", "N", "concrete contribution equal to the shear force that strains the bars"),
    ("V_c_root_kip", "V_c,root", "kip", "concrete contribution equal to the shear force that strains the bars"),
    ("V_c_held", "V_c,held", "N", "concrete contribution with the strain held at its cap"),
    ("V_c_floor", "V_c,min", "N", "least concrete contribution"),
    ("V_c_floor_lbf", "V_c,min", "lbf", "least concrete contribution"),
    ("V_c_lbf", "V_c,lbf", "lbf", "concrete contribution to the shear resistance"),
    ("V_c_kip", "V_c,kip", "kip", "concrete contribution to the shear resistance"),
    ("V_s_0", "V_s,0", "N", "stirrup contribution for cot θ = 1"),
    ("V_s_0_kip", "V_s,0", "kip", "stirrup contribution for cot θ = 1"),
    ("V_s_truss", "V_s,truss", "N", "stirrup contribution without upper bound"),
    ("V_s_truss_lbf", "V_s,truss", "lbf", "stirrup contribution without upper bound"),
    ("V_s_max", "V_s,max", "N", "largest stirrup contribution the section allows"),
    ("V_s_max_lbf", "V_s,max", "lbf", "largest stirrup contribution the section allows"),
    ("V_s_lbf", "V_s,lbf", "lbf", "stirrup contribution to the shear resistance"),
    ("V_s_kip", "V_s,kip", "kip", "stirrup contribution to the shear resistance"),
    ("V_max_strut", "V_max", "N", "shear force at which the struts crush"),
    ("V_max_strut_kip", "V_max", "kip", "shear force at which the struts crush"),
    ("V_support", "V_sup", "N", "shear force at which the strut end at the support crushes"),
    ("V_load", "V_load", "N", "shear force at which the strut end at the load crushes"),
    ("V_tie", "V_tie", "N", "shear force at which the tie of a direct strut yields"),
    ("V_root", "V_root", "N", "shear force equal to the resistance it leaves"),
    ("V_root_kip", "V_root", "kip", "shear force equal to the resistance it leaves"),
    ("V_level2", "V_II", "N", "resistance of level II"),
    ("V_level3", "V_III", "N", "resistance of level III"),
    ("v_c_held", "v_c,held", "MPa", "shear strength of concrete within its bounds"),
    ("v_c_held_psi", "v_c,held", "psi", "shear strength of concrete within its bounds"),
    ("v_min_psi", "v_min", "psi", "least shear strength of concrete"),
    # intermediates of the material laws
    ("f_ck", "f_ck", "MPa", "characteristic cylinder compressive strength of concrete"),
    ("f_cube", "f_c,cube", "MPa", "compressive strength of 150 mm cubes"),
    ("f_ctm_fl", "f_ctm,fl", "MPa", "mean flexural tensile strength of concrete"),
    ("eps_c1", "ε_c1", "-", "concrete strain at peak stress"),
    ("eps_cu1", "ε_cu1", "-", "ultimate concrete strain of the curve for structural analysis"),
    ("age", "t", "d", "age of the concrete"),
    ("cement", "cement", "-", "strength development of the cement: R rapid, N normal, S slow"),
    ("beta_cc", "β_cc", "-", "strength at the age over strength at 28 days"),
    ("f_cm_age", "f_cm(t)", "MPa", "mean cylinder compressive strength at the age"),
    ("E_ci", "E_ci", "MPa", "tangent modulus of elasticity of concrete"),
    ("G_F", "G_F", "N/mm", "fracture energy of concrete"),
    ("f_r", "f_r", "MPa", "modulus of rupture of concrete"),
    ("f_r_psi", "f_r,psi", "psi", "modulus of rupture of concrete"),
    ("E_c_psi", "E_c,psi", "psi", "modulus of elasticity of concrete"),
    # intermediates of the soffit ply limits
    ("eps_fd", "ε_fd", "-", "strain at which a soffit ply debonds from intermediate cracks"),
    ("eps_ic", "ε_ic", "-", "strain of intermediate-crack debonding before its cap"),
    ("b_f", "b_f", "mm", "width of the soffit ply"),
    ("b_f_b", "b_f/b", "-", "ply width over soffit width"),
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
    ("V_sf_max_lbf", "V_sf,max,lbf", "lbf", "largest stirrup and FRP contribution together"),
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


_GREEK = {
    "alpha": "α",
    "beta": "β",
    "gamma": "γ",
    "delta": "δ",
    "eps": "ε",
    "eta": "η",
    "theta": "θ",
    "kappa": "κ",
    "lam": "λ",
    "mu": "μ",
    "nu": "ν",
    "rho": "ρ",
    "sigma": "σ",
    "tau": "τ",
    "phi": "φ",
    "chi": "χ",
    "omega": "ω",
}


def plain(name: str) -> str:
    """Symbol as one line of text; where the glossary has none, the name with a spelled Greek letter as the letter."""
    if name in _BY_NAME:
        return _BY_NAME[name].symbol
    base, mark, index = name.partition("_")
    return _GREEK.get(base, base) + mark + index


def all_symbols() -> tuple[Symbol, ...]:
    """The whole glossary in its own order."""
    return tuple(_BY_NAME.values())
