#include "solver/full_flow.hpp"

#include "mesh/error.hpp"
#include "solver/tolerance.hpp"

#include <Eigen/SparseCholesky>
#include <Eigen/SparseCore>

#include <algorithm>
#include <cmath>
#include <limits>

namespace tidemark {

namespace {

constexpr int most_passes = 200;
/// Passes that go all the way; later ones go as far as the energy falls.
constexpr int whole_passes = 20;
/// What is closed still leaks by this part, so that no body of resin may have any pressure [-].
constexpr double leak = 1e-13;
/// The same where a whole body is closed that is given a volume: that is on its way up to where
/// something opens, and less than this would be lost in rounding. Where it lets all of that volume
/// out, it becomes less by a factor.
constexpr double leak_of_closed = 1e-7;
constexpr double less_leak = 1e-2;
/// Change of an absolute pressure of air that needs no further pass: its amount is kept whatever
/// the pressure a step was solved with [-].
constexpr double settled = 1e-8;
/// Of a port without hose, over the links of its unknown [-].
constexpr double stiffness = 1e8;

/// A link from a full unknown to one that is not: it carries from the first to the second only.
struct OneWay {
  std::int32_t full, dry;
  double conductance;
  bool is_open = true;
};

/// A pocket's rise in pressure, times duration / mu, and what it takes in at that.
struct PocketRise {
  double rise = 0;
  [[nodiscard]] double taken(const AirPocket& air) const {
    return air.volume * rise / (air.impulse + rise);
  }
  [[nodiscard]] double slope(const AirPocket& air) const {
    const double whole = air.impulse + rise;
    return air.volume * air.impulse / (whole * whole);
  }
};

class FullFlowSolve {
public:
  FullFlowSolve(const FlowSystem& system, const StepInput& input)
      : system_(system), input_(input), row_(system.size(), -1), pocket_of_(system.size(), -1),
        pockets_(input.pockets.size()) {
    flow_.u.resize(system.size());
    flow_.is_fed.assign(system.size(), 0);
    flow_.port_is_open.assign(input.ports.size(), 1);
    for (std::size_t k = 0; k < input.pockets.size(); ++k) {
      for (const std::int32_t unknown : input.pockets[k].unknowns) {
        pocket_of_[position(unknown)] = static_cast<std::int32_t>(k);
      }
    }
    collect_fed();
    collect_links();
  }

  FullFlow solve() {
    for (int pass = 0; pass < most_passes; ++pass) {
      const Eigen::VectorXd before = values_;
      solve_linear_system();
      if (pass >= whole_passes) {
        shorten(before);
      }
      const double change = take_values();
      if (!update_openings() && change < settled && !lets_less_out()) {
        put_floors();
        return std::move(flow_);
      }
    }
    throw SolveError("the flow on the full cells was not found");
  }

private:
  [[nodiscard]] bool is_full(std::int32_t unknown) const {
    return input_.fill[position(unknown)] >= full_fraction && system_.volume[position(unknown)] > 0;
  }

  /// At the start of the step.
  [[nodiscard]] double base_floor(std::int32_t unknown) const {
    return input_.floor.empty() ? 0 : input_.floor[position(unknown)];
  }

  [[nodiscard]] double floor_of(std::int32_t unknown) const {
    const std::int32_t pocket = pocket_of_[position(unknown)];
    return base_floor(unknown) + (pocket < 0 ? 0 : pockets_[position(pocket)].rise);
  }

  /// Full unknowns that a port which lets in can push.
  void collect_fed() {
    std::vector<std::int32_t> body;
    const auto joins = [&](std::int32_t unknown) {
      std::uint8_t& is_fed = flow_.is_fed[position(unknown)];
      const bool is_new = is_fed == 0 && is_full(unknown);
      is_fed |= is_new ? 1 : 0;
      return is_new;
    };
    for (const Port& port : input_.ports) {
      if (!port.lets_out && port.volume.value_or(1) > 0 && joins(port.unknown)) {
        body.push_back(port.unknown);
      }
    }
    spread(system_.matrix, body, joins);
    std::ranges::sort(body);
    for (const std::int32_t unknown : body) {
      row_[position(unknown)] = static_cast<std::int32_t>(unknowns_.size());
      unknowns_.push_back(unknown);
    }
    body_of_ = connected_bodies(system_.matrix,
                                [&](std::int32_t unknown) { return row_of(unknown) >= 0; });
    is_closed_.resize(position(std::ranges::max(body_of_) + 1));
    for (std::size_t k = 0; k < input_.ports.size(); ++k) {
      flow_.port_is_open[k] = input_.ports[k].volume || row_of(input_.ports[k].unknown) >= 0;
    }
  }

  /// Finds the bodies that are given a volume and whose links and ports by pressure are all closed.
  void find_closed_bodies() {
    std::ranges::fill(is_closed_, std::uint8_t{0});
    for (const Port& port : input_.ports) {
      if (port.volume.value_or(0) > 0 && row_of(port.unknown) >= 0) {
        is_closed_[body_of(port.unknown)] = 1;
      }
    }
    for (const OneWay& link : links_) {
      if (link.is_open) {
        is_closed_[body_of(link.full)] = 0;
      }
    }
    for (std::size_t k = 0; k < input_.ports.size(); ++k) {
      const Port& port = input_.ports[k];
      if (!port.volume && row_of(port.unknown) >= 0 && flow_.port_is_open[k]) {
        is_closed_[body_of(port.unknown)] = 0;
      }
    }
  }

  /// Whether a body is still closed, so that what it is given leaks; then it leaks less from now.
  bool lets_less_out() {
    const bool any_closed =
        std::ranges::any_of(is_closed_, [](std::uint8_t closed) { return closed != 0; });
    if (any_closed && leak_of_closed_ < leak) {
      throw SolveError("a body of resin is given more than it lets out");
    }
    leak_of_closed_ *= any_closed ? less_leak : 1;
    return any_closed;
  }

  [[nodiscard]] std::size_t body_of(std::int32_t full) const {
    return position(body_of_[position(full)]);
  }

  /// Of closed links and ports of a full unknown's body, as the matrix has them [-].
  [[nodiscard]] double leak_at(std::int32_t full) const {
    return is_closed_[body_of(full)] ? leak_of_closed_ : leak;
  }

  /// Resin that no port pushes does not take any in.
  void collect_links() {
    const Stencil& matrix = system_.matrix;
    for (const std::int32_t full : unknowns_) {
      const std::size_t i = position(full);
      for (std::int32_t k = matrix.first[i]; k < matrix.first[i + 1]; ++k) {
        const std::int32_t other = matrix.column[position(k)];
        if (!is_full(other) && system_.volume[position(other)] > 0) {
          links_.push_back({full, other, matrix.link[position(k)]});
        }
      }
    }
  }

  [[nodiscard]] std::int32_t row_of(std::int32_t unknown) const { return row_[position(unknown)]; }

  /// Of a port by pressure.
  [[nodiscard]] double conductance(const Port& port, bool is_open, double closed = leak) const {
    const double links = system_.matrix.diagonal[position(port.unknown)];
    if (!is_open) {
      return closed * links;
    }
    return std::isfinite(port.conductance) ? port.conductance : stiffness * links;
  }

  /// Row of what takes in a port's volume: a full unknown, or the pocket it is in; -1 for neither.
  [[nodiscard]] std::int32_t row_given(const Port& port) const {
    const std::int32_t pocket = pocket_of_[position(port.unknown)];
    const std::int32_t row = row_of(port.unknown);
    return row >= 0 || pocket < 0 ? row : pocket_row(pocket);
  }

  void add(std::int32_t row, std::int32_t column, double value) {
    if (column <= row) {
      entries_.emplace_back(row, column, value);
    }
  }

  void add_full_links() {
    const Stencil& matrix = system_.matrix;
    for (const std::int32_t full : unknowns_) {
      const std::size_t i = position(full);
      for (std::int32_t k = matrix.first[i]; k < matrix.first[i + 1]; ++k) {
        if (const std::int32_t other = row_of(matrix.column[position(k)]); other >= 0) {
          add(row_[i], row_[i], matrix.link[position(k)]);
          add(row_[i], other, -matrix.link[position(k)]);
        }
      }
    }
  }

  void add_one_way_links() {
    for (const OneWay& link : links_) {
      const double c = link.conductance * (link.is_open ? 1 : leak_at(link.full));
      const std::int32_t row = row_of(link.full);
      const std::int32_t pocket = pocket_of_[position(link.dry)];
      const double base = base_floor(link.dry);
      add(row, row, c);
      right_[row] += c * base;
      if (pocket >= 0) {
        const std::int32_t column = pocket_row(pocket);
        add(column, row, -c);
        add(column, column, c);
        right_[column] -= c * base;
      }
    }
  }

  void add_pockets() {
    for (std::size_t k = 0; k < pockets_.size(); ++k) {
      const AirPocket& air = input_.pockets[k];
      const double slope = pockets_[k].slope(air);
      const std::int32_t row = pocket_row(static_cast<std::int32_t>(k));
      add(row, row, slope);
      right_[row] += slope * pockets_[k].rise - pockets_[k].taken(air);
    }
  }

  void add_ports() {
    for (std::size_t k = 0; k < input_.ports.size(); ++k) {
      const Port& port = input_.ports[k];
      const std::int32_t row = port.volume ? row_given(port) : row_of(port.unknown);
      if (row < 0) {
        continue;
      }
      if (port.volume) {
        right_[row] += *port.volume;
      } else {
        const double c = conductance(port, flow_.port_is_open[k] != 0, leak_at(port.unknown));
        add(row, row, c);
        right_[row] += c * port.impulse;
      }
    }
  }

  [[nodiscard]] std::int32_t pocket_row(std::int32_t pocket) const {
    return static_cast<std::int32_t>(unknowns_.size()) + pocket;
  }

  void solve_linear_system() {
    const auto size = static_cast<Eigen::Index>(unknowns_.size() + pockets_.size());
    entries_.clear();
    right_ = Eigen::VectorXd::Zero(size);
    find_closed_bodies();
    add_full_links();
    add_one_way_links();
    add_pockets();
    add_ports();
    Eigen::SparseMatrix<double> matrix(size, size);
    matrix.setFromTriplets(entries_.begin(), entries_.end());
    const Eigen::SimplicialLDLT<Eigen::SparseMatrix<double>> factors(matrix);
    if (factors.info() != Eigen::Success) {
      throw SolveError("the equations of the full cells have no solution");
    }
    values_ = factors.solve(right_);
    const Eigen::VectorXd rest = right_ - matrix.selfadjointView<Eigen::Lower>() * values_;
    values_ += factors.solve(rest);
  }

  /// Goes back from values_ towards the values before, to where the energy is least in between.
  void shorten(const Eigen::VectorXd& before) {
    const Eigen::VectorXd direction = values_ - before;
    double low = 0;
    double high = 1;
    for (int halving = 0; halving < 40; ++halving) {
      const double middle = halving == 0 ? 1 : 0.5 * (low + high);
      const bool falls = slope_along(direction, before + middle * direction) <= 0;
      if (falls && halving == 0) {
        return;
      }
      (falls ? low : high) = middle;
    }
    values_ = before + high * direction;
  }

  /// Derivative of the energy at the values given, along a direction.
  [[nodiscard]] double slope_along(const Eigen::VectorXd& direction,
                                   const Eigen::VectorXd& values) const {
    const Stencil& matrix = system_.matrix;
    double slope = 0;
    for (const std::int32_t full : unknowns_) {
      const std::size_t i = position(full);
      for (std::int32_t k = matrix.first[i]; k < matrix.first[i + 1]; ++k) {
        if (const std::int32_t other = row_of(matrix.column[position(k)]); other >= 0) {
          const double c = matrix.link[position(k)];
          slope += c * (values[row_[i]] - values[other]) * direction[row_[i]];
        }
      }
    }
    for (const OneWay& link : links_) {
      const std::int32_t pocket = pocket_of_[position(link.dry)];
      const std::int32_t row = row_of(link.full);
      const double rise = pocket < 0 ? 0 : values[pocket_row(pocket)];
      const double above = values[row] - base_floor(link.dry) - rise;
      const double flow = link.conductance * above * (above > 0 ? 1 : leak);
      slope += flow * (direction[row] - (pocket < 0 ? 0 : direction[pocket_row(pocket)]));
    }
    for (std::size_t k = 0; k < pockets_.size(); ++k) {
      const std::int32_t row = pocket_row(static_cast<std::int32_t>(k));
      slope += PocketRise{values[row]}.taken(input_.pockets[k]) * direction[row];
    }
    for (const Port& port : input_.ports) {
      const std::int32_t row = port.volume ? row_given(port) : row_of(port.unknown);
      if (row < 0) {
        continue;
      }
      if (port.volume) {
        slope -= *port.volume * direction[row];
      } else {
        const double above = values[row] - port.impulse;
        slope += conductance(port, opens(port, above)) * above * direction[row];
      }
    }
    return slope;
  }

  /// Takes over the values found. Returns the largest change of a pocket's pressure [-].
  double take_values() {
    for (const std::int32_t unknown : unknowns_) {
      flow_.u[position(unknown)] = values_[row_of(unknown)];
    }
    double change = 0;
    for (std::size_t k = 0; k < pockets_.size(); ++k) {
      const double impulse = input_.pockets[k].impulse;
      const double before = pockets_[k].rise;
      const double least = before - 0.9 * (impulse + before); // the air keeps some pressure
      double& rise = values_[pocket_row(static_cast<std::int32_t>(k))];
      rise = pockets_[k].rise = std::max(least, rise);
      change = std::max(change, std::abs(pockets_[k].rise - before) / (impulse + before));
    }
    return change;
  }

  /// Whether a port by pressure carries, with u so much above its own.
  static bool opens(const Port& port, double above) {
    return port.lets_out ? above > 0 : above < 0;
  }

  /// Whether a difference from u can be told from rounding; else what is open or closed stays so.
  [[nodiscard]] bool is_told(double difference, std::int32_t unknown) const {
    constexpr double rounding = 16 * std::numeric_limits<double>::epsilon();
    return std::abs(difference) > rounding * std::abs(flow_.u[position(unknown)]);
  }

  /// Returns whether any changed.
  bool update_openings() {
    bool changed = false;
    for (OneWay& link : links_) {
      const double above = flow_.u[position(link.full)] - floor_of(link.dry);
      if (!is_told(above, link.full)) {
        continue;
      }
      changed = changed || (above > 0) != link.is_open;
      link.is_open = above > 0;
    }
    for (std::size_t k = 0; k < input_.ports.size(); ++k) {
      const Port& port = input_.ports[k];
      if (port.volume || row_of(port.unknown) < 0) {
        continue;
      }
      const double above = flow_.u[position(port.unknown)] - port.impulse;
      if (!is_told(above, port.unknown)) {
        continue;
      }
      const bool is_open = opens(port, above);
      changed = changed || is_open != (flow_.port_is_open[k] != 0);
      flow_.port_is_open[k] = is_open ? 1 : 0;
    }
    return changed;
  }

  void put_floors() {
    for (std::size_t i = 0; i < row_.size(); ++i) {
      if (row_[i] < 0) {
        flow_.u[i] = floor_of(static_cast<std::int32_t>(i));
      }
    }
  }

  const FlowSystem& system_;
  const StepInput& input_;
  std::vector<std::int32_t> unknowns_;  // full and fed
  std::vector<std::int32_t> row_;       // of each unknown, -1 for the others
  std::vector<std::int32_t> body_of_;   // of each unknown, -1 for the others
  std::vector<std::uint8_t> is_closed_; // of each body: given a volume, and nothing is open
  double leak_of_closed_ = leak_of_closed;
  std::vector<std::int32_t> pocket_of_;
  std::vector<OneWay> links_;
  std::vector<PocketRise> pockets_;
  std::vector<Eigen::Triplet<double>> entries_;
  Eigen::VectorXd right_;
  Eigen::VectorXd values_; // u of unknowns_, then the rise of each pocket
  FullFlow flow_;
};

} // namespace

FullFlow flow_on_full(const FlowSystem& system, const StepInput& input) {
  return FullFlowSolve(system, input).solve();
}

} // namespace tidemark
