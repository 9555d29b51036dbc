// Resin that ages from parcel to parcel: when what is in each cell and hose passed the mixing head.
#pragma once

#include "solver/fill_problem.hpp"
#include "solver/flow_system.hpp"
#include "solver/resin_heat.hpp"

#include <cstdint>
#include <deque>
#include <functional>
#include <limits>
#include <optional>
#include <span>
#include <vector>

namespace tidemark {

/// What enters at an unknown over a step.
struct Inlet {
  std::int32_t unknown;
  double volume;   // [m3]
  double mixed_at; // when what enters at the end of the step passed the head [s]
  double oldest;   // the same of what entered first
};

/// The resin in a hose, in plugs one behind the other (laminar flow draws them out; that is left
/// out).
class HoseContents {
public:
  /// Full of resin mixed at 0.
  explicit HoseContents(std::span<const Hose> line);
  /// Filled with resin mixed at a time [s].
  void fill(double time);

  /// A volume [m3] > 0 passes the head evenly from begin to end [s]; as much leaves at the gates.
  /// Returns when the resin then at the gates' end passed the head, and when what left first did.
  struct Passed {
    double mixed_at, oldest; // [s]
  };
  Passed push(double volume, double begin, double end);

  /// Resistance at the viscosities at a time [s], for a flow at the fresh resin's mu0: the sum of
  /// R_k mu_k / mu0, mu_k the mean along length k [1/m3]. 0 without a hose.
  [[nodiscard]] double resistance(const Resin& resin, double time) const;
  [[nodiscard]] bool is_hose() const { return !line_.empty(); }

private:
  struct Plug {
    double volume;      // [m3]
    double first, last; // when its ends passed the head, that towards the gates first [s]
  };
  std::vector<Hose> line_;
  std::deque<Plug> plugs_; // from the gates to the head
};

/// Carries the time of mixing with the flow: a quantity that keeps its value in each parcel, so
/// that age = time - mixed_at. Implicit and upwind: with F V s the content of a cell,
///     s_i = (F_i V_i s_i + sum over inflows q_ji s_j) / (F_i V_i + sum q_ji),
/// F at the start of a part of the step, s_j at its end. Flow runs down the pressure, so that one
/// pass over the unknowns by falling pressure does it. First order in time and mesh: age spreads
/// over sqrt(cell size x way) along the flow, less so in the more parts a step is cut. The front is
/// a line of the same resin at all times, that which came in first; its time of mixing goes on from
/// cell to cell unmixed.
class ResinAge {
public:
  /// parts: equal ones that each step is carried in, > 0. heat: temperature and cure of the cells,
  /// which then say what viscosities are and what gels; it must outlive this.
  ResinAge(const Resin& resin, const FlowSystem& system, int parts = 1,
           const ResinHeat* heat = nullptr);

  /// The cell of an unknown is topped up at once from a fill fraction with resin just mixed [s].
  void top_up(std::int32_t unknown, double fill, double time);
  /// Gates were tied or untied at a time [s]: the cells of each, with their resin [m3], went from
  /// one unknown to another. Tied cells count as mixed when the youngest of them was, since what
  /// the pump gives runs through there; dry cells beside them will get fresh resin.
  struct Share {
    std::int32_t from, to;
    double volume;
  };
  void regroup(std::span<const Share> shares, double time);

  /// One step. flow(i, j, c): volume from unknown i to j over the step through a link c [m3]; u
  /// falls along every flow; fill fractions before and after it.
  using LinkFlow = std::function<double(std::int32_t, std::int32_t, double)>;
  void carry(std::span<const double> before, std::span<const double> after,
             std::span<const double> u, const LinkFlow& flow, std::span<const Inlet> inlets);

  /// Gels as of a time [s], and viscosities so much ahead of it [s], for the step that begins then:
  /// half a step ahead they are those of its middle. The front ages; in a cell that was full before
  /// the viscosity goes on as it did since it was last judged, taken to be twice as long ago. Dry
  /// cells stand for the resin of the front that will come to them.
  void judge(std::span<const double> fill, double time, double ahead = 0);

  /// How fast the viscosity of what is in the full cells changed between the last two judgements:
  /// the mean of |d ln mu / dt| over their volume [1/s], without what has gelled.
  [[nodiscard]] double pace() const { return pace_; }

  /// Viscosity at each unknown over that of the fresh resin [-], as judged. Gelled cells, and such
  /// as would be still thicker, have `blocked`.
  [[nodiscard]] const std::vector<double>& ratio() const { return ratio_; }
  static constexpr double blocked = solid_ratio;
  /// Conductance of the link of two unknowns over that at the fresh resin's viscosity: each half of
  /// the way resists with the viscosity at its end, 2 / (r_i + r_j): the viscosity as a straight
  /// line between the two, and the same both ways, so that the matrix stays symmetric. What comes
  /// into a cell that is not full yet is the front of the full one it comes from.
  [[nodiscard]] double link_factor(std::int32_t i, std::int32_t j) const {
    const std::size_t a = position(i);
    const std::size_t b = position(j);
    const bool is_front = is_full_[a] != is_full_[b];
    const double at_a = is_front && !is_full_[a] ? front_ratio_[b] : ratio_[a];
    const double at_b = is_front && !is_full_[b] ? front_ratio_[a] : ratio_[b];
    return 2 / (at_a + at_b);
  }
  /// The next time at which the resin at a part of the front gels [s]; infinite if none will.
  [[nodiscard]] double next_front_gel() const { return next_front_gel_; }
  /// The resin has gelled all along the front.
  [[nodiscard]] bool front_has_gelled() const { return front_has_gelled_; }
  struct FirstGel {
    std::int32_t unknown;
    double time; // [s]
  };
  [[nodiscard]] const std::optional<FirstGel>& first_gel() const { return first_gel_; }

  /// Mean time of mixing of what is in each cell [s]; NaN where no resin has been.
  [[nodiscard]] const std::vector<double>& mixed_at() const { return mixed_at_; }
  /// Time of mixing of the front as it came to each cell [s]; NaN as above.
  [[nodiscard]] const std::vector<double>& front_mixed_at() const { return front_; }

private:
  void carry_part(std::span<const std::int32_t> order, std::span<const double> fill,
                  std::span<const double> u, const LinkFlow& flow, std::span<const Inlet> inlets);
  void spread_front(std::span<const double> fill);
  void judge_front(std::span<const double> fill, double time);

  [[nodiscard]] double ratio_at(double age) const;
  [[nodiscard]] bool has_gelled(double age) const;
  /// Of the content of a cell at an age [s], or of the front as it came there, so much later [s].
  [[nodiscard]] double ratio_in(std::size_t i, double age) const;
  [[nodiscard]] double front_ratio_in(std::size_t i, double age, double ahead) const;
  [[nodiscard]] double front_gels_at(std::size_t i, double time) const;

  const Resin& resin_;
  const FlowSystem& system_;
  int parts_;
  const ResinHeat* heat_;
  double standstill_age_;
  std::vector<double> mixed_at_, front_;
  std::vector<double> coming_; // front_, and in dry cells that of the front nearest to them
  std::vector<std::int32_t> coming_from_; // the cell that front is in, -1 if there is none
  std::vector<double> ratio_, front_ratio_;
  std::vector<double> judged_; // ratio of each cell when it was last judged, not ahead
  double judged_at_ = 0;       // [s]
  double pace_ = 0;
  std::vector<std::uint8_t> is_full_;
  double next_front_gel_ = std::numeric_limits<double>::infinity();
  bool front_has_gelled_ = false;
  std::optional<FirstGel> first_gel_;
};

} // namespace tidemark
