// Temperature and cure of the resin from place to place, averaged over the thickness.
#pragma once

#include "solver/fill_problem.hpp"
#include "solver/filling.hpp"
#include "solver/flow_system.hpp"

#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <vector>

namespace tidemark {

/// A well-stirred vessel over a step: its capacity w goes evenly from w0 to w1, inflow carries x
/// in, what leaves has the x of the vessel, and
///     w dx/ds = carried + source - (inflow + loss) x,   s from 0 to 1.
struct Stirred {
  double capacity_before, capacity_after; // w0, w1, 0 <= w0 <= w1, w1 > 0
  double inflow;                          // of capacity over the step, >= w1 - w0
  double carried;                         // inflow times its x
  double loss, source;                    // of the step; loss >= 0
};
struct StirredState {
  double at_end, mean;
};
/// The exact solution, so that it is stable for any step, and w1 x1 = w0 x0 + carried + source -
/// (inflow - w1 + w0 + loss) mean to rounding. x0 counts only if w0 > 0.
StirredState stir(const Stirred& vessel, double before);

/// Each cell i holds resin F_i V_i and wetted fibres F_i C_i, C_i = rho_f c_f Vf h A / 3 summed, at
/// one temperature. With T relative to the mould:
///     (rho c F_i V_i + F_i C_i) dT/dt = sum over inflows rho c q_ji (T_j - T_i) - dF_i/dt C_i T_i
///                                       - F_i U A_i T_i + rho H F_i V_i d alpha / dt
/// Fibres that the front meets come in at the mould's temperature. Upwind and implicit: one pass
/// over the cells by falling pressure, each solved exactly over the step against the mean inflow
/// (`stir`); cure in shares of the step, no more than 0.02 of conversion and 2 K each. First order
/// in time and mesh. Conduction in the plane is left out.
class ResinHeat {
public:
  ResinHeat(const FillProblem& problem, const FlowSystem& system);

  struct Source {
    std::int32_t unknown;
    double volume;          // [m3]
    double age, oldest_age; // at the end of the step, of what entered then and first [s]
  };
  struct Step {
    std::span<const double> before, after; // fill fractions
    std::span<const double> u;             // falls along every flow; empty: nothing flows
    /// Volume from unknown i to j over the step through a link c [m3].
    std::function<double(std::int32_t, std::int32_t, double)> flow;
    std::span<const Source> sources;
    double begin, duration; // [s]
  };
  /// In so many equal parts, > 0.
  void carry(const Step& step, int parts = 1);

  /// A cell is topped up at once from a fill fraction with resin of an age [s].
  void top_up(std::int32_t unknown, double fill, double age);

  /// What the cells of each seat hold, to be handed to regroup after seats were tied or untied.
  struct GateContent {
    double energy, resin, cure; // [J], [m3], cure times resin
    double front_cure;
  };
  /// volume: pore volume of each seat's cells [m3].
  [[nodiscard]] std::vector<GateContent> gate_contents(std::span<const double> fill,
                                                       std::span<const double> volume) const;
  void regroup(std::span<const GateContent> contents, std::span<const double> fill);

  [[nodiscard]] double temperature(std::int32_t unknown) const; // [K]; NaN where no resin is
  [[nodiscard]] double conversion(std::int32_t unknown) const;  // [-]; NaN as above
  [[nodiscard]] bool has_kinetics() const { return problem_.resin.laws.cure.has_value(); }
  /// Viscosity of what is in a cell at an age [s], of its content or of the front as it came there,
  /// over that of fresh resin at the inlet [-], no more than solid_ratio.
  [[nodiscard]] double viscosity_ratio(std::int32_t unknown, double age) const;
  /// ahead: by how much later [s], at the temperature now.
  [[nodiscard]] double front_viscosity_ratio(std::int32_t unknown, double age,
                                             double ahead = 0) const;
  /// How long the front's resin in a cell takes to the gel at its temperature now [s]; 0 if it has
  /// gelled.
  [[nodiscard]] double time_to_gel_of_front(std::int32_t unknown, double age) const;
  [[nodiscard]] bool has_gelled(std::int32_t unknown, double age) const;
  /// The largest d ln mu / dt of resin that has not gelled [1/s], and how many times faster than at
  /// the inlet it ages at most.
  struct Pace {
    double thickening = 0, ageing = 0;
  };
  [[nodiscard]] Pace pace(std::span<const double> fill, std::span<const double> mixed_at,
                          double time) const;
  /// The largest share of its way to the gel that any resin has gone [-]; with_front: that of the
  /// front as well, which is no longer told from the rest once it has left through vents.
  [[nodiscard]] double largest_gel_share(std::span<const double> fill,
                                         std::span<const double> mixed_at, double time,
                                         bool with_front) const;

  [[nodiscard]] HeatBalance balance(std::span<const double> fill) const;
  struct Peak {
    std::int32_t unknown = -1;
    double temperature = 0, time = 0; // [K], [s]
  };
  [[nodiscard]] const Peak& peak() const { return peak_; }

private:
  struct Cell {
    double excess;     // temperature above the mould's [K]; NaN without resin
    double cure;       // conversion [-]; without kinetics the age at the inlet's temperature [s]
    double front_cure; // of the resin of the front that came there; NaN as above
  };
  struct Inflow {
    double volume = 0, excess = 0, cure = 0; // [m3], times excess, times cure
    double front_cure;                       // NaN: none
    double outflow = 0;                      // through links [m3]
  };
  void collect();
  void carry_part(const Step& step, std::span<const std::int32_t> order);
  [[nodiscard]] Inflow inflow_of(const Step& step, std::int32_t unknown) const;
  void change(const Step& step, std::int32_t unknown, const Inflow& inflow);
  [[nodiscard]] double cure_of_age(double age) const;
  [[nodiscard]] double age_of_cure(double cure) const;
  [[nodiscard]] double cure_rate_at(double cure, double excess) const;
  [[nodiscard]] double later_cure(double cure, double excess, double duration) const;
  [[nodiscard]] double law_temperature(double excess) const;
  [[nodiscard]] double ratio_of(double excess, double cure, double age) const;
  [[nodiscard]] bool is_solid(double cure, double age) const;

  const FillProblem& problem_;
  const FlowSystem& system_;
  const Heat& heat_;
  double resin_capacity_; // rho c [J/(m3 K)]
  double inlet_excess_;   // [K]
  double gel_age_, standstill_age_;
  double gel_time_at_inlet_ = 0;
  bool thickens_by_cure_;
  std::optional<CureCourse> course_; // at the inlet's temperature
  PerNode<double> node_fibre_, node_area_;
  std::vector<double> fibre_, area_; // C_i [J/K], area of the part [m2]
  std::vector<Cell> cells_;
  std::vector<double> excess_out_, cure_out_; // means over the step of what leaves
  std::vector<std::uint8_t> is_vent_;
  HeatBalance balance_;
  Peak peak_;
};

} // namespace tidemark
