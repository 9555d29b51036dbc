// The linear solve on the wet set: conjugate gradients, with pockets of air as unknowns.
#include "solver/pressure_step.hpp"

#include <algorithm>
#include <cmath>
#include <tuple>
#include <utility>

namespace tidemark {

namespace {

/// Pockets whose air gives way less than the resin round it are worth solving for apart [-].
constexpr double soft_pocket = 0.1;
constexpr std::size_t most_eliminated = 4;

/// Shift of a pocket's floor and its slope once taken [m3] of resin has come into it: from the gas
/// law, p V constant, with tau = taken / V: impulse (m - 1), m = 1 / (1 - tau) at the end,
/// m = -ln(1 - tau) / tau in the mean.
std::pair<double, double> gas_law(const AirPocket& pocket, double taken) {
  const double tau = taken / pocket.volume;
  double m = 1 / (1 - tau);
  double slope = m * m;
  if (pocket.acts_by_mean) {
    const bool is_small = std::abs(tau) < 1e-4; // the terms would cancel
    m = is_small ? 1 + tau / 2 + tau * tau / 3 : -std::log1p(-tau) / tau;
    slope = is_small ? 0.5 + 2 * tau / 3 : (1 / (1 - tau) - m) / tau;
  }
  return {pocket.impulse * (m - 1), pocket.impulse * slope / pocket.volume};
}

} // namespace

/// Writes the floor of a pocket's dry unknowns into u.
void PressureStep::put_floors(const AirPocket& pocket) {
  for (const std::int32_t unknown : pocket.unknowns) {
    if (state_[position(unknown)] == State::dry) {
      u_[position(unknown)] = floor_of(unknown);
    }
  }
}

void PressureStep::put_pocket_floors() {
  for (const AirPocket& pocket : input_.pockets) {
    put_floors(pocket);
  }
}

/// Shift of each small pocket that suits what flows into it by the present u of the wet unknowns
/// round it: the more it is pressed, the less flows.
void PressureStep::level_pockets() {
  std::vector<std::pair<double, double>> inlets; // u above the unshifted floor, conductance
  for (std::size_t k = 0; k < pockets_.size(); ++k) {
    const AirPocket& air = input_.pockets[k];
    PocketState& pocket = pockets_[k];
    if (air.acts_by_mean) {
      continue;
    }
    inlets.clear();
    double filled = 0;
    for (const std::int32_t unknown : air.unknowns) {
      const std::size_t j = position(unknown);
      if (state_[j] != State::dry) {
        filled += (1 - input_.fill[j]) * system_.volume[j];
        continue;
      }
      for (std::int32_t at = matrix_.first[j]; at < matrix_.first[j + 1]; ++at) {
        const std::int32_t full = matrix_.column[position(at)];
        if (carries(full) && u_[position(full)] > input_.floor[j]) {
          inlets.emplace_back(u_[position(full)] - input_.floor[j], matrix_.link[position(at)]);
        }
      }
    }
    if (filled >= air.volume) {
      continue; // the set has to change first
    }
    double low = 0;
    double high = 1 - 1e-9;
    for (int halving = 0; halving < 40; ++halving) {
      const double tau = (low + high) / 2;
      const double shift = gas_law(air, tau * air.volume).first;
      double taken = filled;
      for (const auto& [height, c] : inlets) {
        taken += c * std::max(height - shift, 0.0);
      }
      (taken > tau * air.volume ? low : high) = tau;
    }
    pocket.shift = gas_law(air, low * air.volume).first;
    pocket.taken_at = low * air.volume;
    put_floors(air);
  }
}

/// Gathers what has flowed into each pocket by the present u, linearises its law there, and keeps
/// the links from wet unknowns to it. A jump takes up at most 70 % of the air that is left.
void PressureStep::linearise_pockets() {
  pocket_links_.clear();
  if (pockets_.empty()) {
    return;
  }
  std::vector<double> taken(pockets_.size(), 0.0);
  for (PocketState& pocket : pockets_) {
    pocket.diagonal = 0;
  }
  for (const std::int32_t dry : border_) {
    const std::size_t j = position(dry);
    if (pocket_of_[j] < 0) {
      continue;
    }
    const std::size_t k = position(pocket_of_[j]);
    for (std::int32_t at = matrix_.first[j]; at < matrix_.first[j + 1]; ++at) {
      const std::int32_t full = matrix_.column[position(at)];
      const std::size_t i = position(full);
      const double c = matrix_.link[position(at)];
      const bool is_open = carries(full) && (closed_links_.empty() || u_[i] > u_[j]);
      if (is_open) {
        taken[k] += c * (u_[i] - u_[j]);
        pockets_[k].diagonal += c;
        if (state_[i] == State::wet) {
          pocket_links_.push_back({full, k, c});
        }
      }
    }
  }
  for (std::size_t k = 0; k < pockets_.size(); ++k) {
    for (const std::int32_t unknown : input_.pockets[k].unknowns) {
      const std::size_t j = position(unknown);
      if (state_[j] != State::dry) {
        taken[k] += (1 - input_.fill[j]) * system_.volume[j];
      }
    }
    PocketState& pocket = pockets_[k];
    const AirPocket& air = input_.pockets[k];
    const double most = pocket.taken_at + 0.7 * (air.volume - pocket.taken_at);
    pocket.taken_at = std::clamp(taken[k], 0.0, most);
    std::tie(pocket.shift_at, pocket.slope) = gas_law(air, pocket.taken_at);
    pocket.diagonal += 1 / pocket.slope;
    pocket.residual = taken[k] - pocket.taken_at - (pocket.shift - pocket.shift_at) / pocket.slope;
  }
}

/// r = source - A u on the active set. Returns the largest |r_i| / V_i there, an error of a fill
/// fraction, and keeps in rounding_ how small it can be made: the products in a row cancel.
double PressureStep::update_residual() {
  double largest = 0;
  double largest_term = 0;
  for (const std::int32_t unknown : active_) {
    const std::size_t i = position(unknown);
    r_[i] = source_[i] - matrix_.diagonal[i] * u_[i] + matrix_.gathered(i, u_);
  }
  for (const DirectedLink& link : closed_links_) {
    r_[position(link.from)] -= link.conductance * u_[position(link.to)];
  }
  for (const std::int32_t unknown : active_) {
    const std::size_t i = position(unknown);
    largest = std::max(largest, std::abs(r_[i]) / system_.volume[i]);
    largest_term =
        std::max(largest_term, std::abs(matrix_.diagonal[i] * u_[i]) / system_.volume[i]);
  }
  rounding_ = 8 * std::numeric_limits<double>::epsilon() * largest_term;
  linearise_pockets();
  for (const PocketState& pocket : pockets_) {
    largest = std::max(largest, std::abs(pocket.residual) / pocket.cell);
  }
  return largest;
}

/// Brings the multigrid's hierarchy, and with it what is known of the pockets' responses, to the
/// wet set and to the links that are open.
void PressureStep::prepare_multigrid() {
  if (active_.empty()) {
    return;
  }
  if (!std::exchange(knows_network_, true)) {
    multigrid_.set_up(system_.matrix);
  }
  knows_responses_ = !multigrid_.follow(matrix_, active_) && knows_responses_;
}

/// What u answers to a rise of the stiffest pockets, w = M c with c the pocket's links and M the
/// multigrid cycle, serves until the wet set is another. With A in the directions (w, 1)
/// factorised, pockets cost hardly an iteration.
void PressureStep::eliminate_pockets() {
  if (active_.empty() || pockets_.empty()) {
    eliminated_.clear();
    return;
  }
  if (!knows_responses_) {
    find_responses();
    knows_responses_ = true;
  }
  const auto count = static_cast<Eigen::Index>(eliminated_.size());
  Eigen::MatrixXd reduced = Eigen::MatrixXd::Zero(count, count);
  for (Eigen::Index l = 0; l < count; ++l) {
    std::vector<double>& response = response_[static_cast<std::size_t>(l)];
    d_ = response;
    for (PocketState& pocket : pockets_) {
      pocket.direction = 0;
    }
    pockets_[eliminated_[static_cast<std::size_t>(l)]].direction = 1;
    multiply();
    for (Eigen::Index k = 0; k < count; ++k) {
      reduced(k, l) = pockets_[eliminated_[static_cast<std::size_t>(k)]].product;
      for (const std::int32_t unknown : active_) {
        reduced(k, l) +=
            response_[static_cast<std::size_t>(k)][position(unknown)] * q_[position(unknown)];
      }
    }
  }
  reduced_.compute((reduced + reduced.transpose()) / 2);
  if (reduced_.info() != Eigen::Success) { // by rounding
    eliminated_.clear();
  }
}

void PressureStep::find_responses() {
  eliminated_.clear();
  const auto stiffness = [&](std::size_t k) {
    return pockets_[k].diagonal * pockets_[k].slope - 1; // of the links against that of the air
  };
  for (std::size_t k = 0; k < pockets_.size(); ++k) {
    if (stiffness(k) > soft_pocket) {
      eliminated_.push_back(k);
    }
  }
  std::ranges::sort(eliminated_, std::ranges::greater{}, stiffness);
  eliminated_.resize(std::min(eliminated_.size(), most_eliminated));
  response_.resize(eliminated_.size());
  for (std::size_t k = 0; k < eliminated_.size(); ++k) {
    std::ranges::fill(q_, 0.0);
    for (const PocketLink& link : pocket_links_) {
      q_[position(link.wet)] += link.pocket == eliminated_[k] ? link.conductance : 0;
    }
    response_[k].assign(u_.size(), 0.0);
    multigrid_.apply(matrix_, active_, q_, response_[k]);
  }
}

/// z = M r, and the same for the pockets; returns r . z.
double PressureStep::precondition() {
  if (!active_.empty()) { // else there are pockets only
    multigrid_.apply(matrix_, active_, r_, z_);
  }
  for (PocketState& pocket : pockets_) {
    pocket.correction = pocket.residual / pocket.diagonal;
  }
  if (!eliminated_.empty()) {
    Eigen::VectorXd rise(static_cast<Eigen::Index>(eliminated_.size()));
    for (std::size_t k = 0; k < eliminated_.size(); ++k) {
      double product = pockets_[eliminated_[k]].residual;
      for (const std::int32_t unknown : active_) {
        product += response_[k][position(unknown)] * r_[position(unknown)];
      }
      rise[static_cast<Eigen::Index>(k)] = product;
    }
    rise = reduced_.solve(rise);
    for (std::size_t k = 0; k < eliminated_.size(); ++k) {
      const double x = rise[static_cast<Eigen::Index>(k)];
      pockets_[eliminated_[k]].correction = x;
      for (const std::int32_t unknown : active_) {
        z_[position(unknown)] += x * response_[k][position(unknown)];
      }
    }
  }
  double product = 0;
  for (const std::int32_t unknown : active_) {
    product += r_[position(unknown)] * z_[position(unknown)];
  }
  for (const PocketState& pocket : pockets_) {
    product += pocket.residual * pocket.correction;
  }
  return product;
}

/// q = A d; returns d . q.
double PressureStep::multiply() {
  for (const std::int32_t unknown : active_) {
    const std::size_t i = position(unknown);
    q_[i] = matrix_.diagonal[i] * d_[i] - matrix_.gathered(i, d_);
  }
  for (PocketState& pocket : pockets_) {
    pocket.product = pocket.diagonal * pocket.direction;
  }
  for (const PocketLink& link : pocket_links_) {
    PocketState& pocket = pockets_[link.pocket];
    q_[position(link.wet)] -= link.conductance * pocket.direction;
    pocket.product -= link.conductance * d_[position(link.wet)];
  }
  double curvature = 0;
  for (const std::int32_t unknown : active_) {
    curvature += q_[position(unknown)] * d_[position(unknown)];
  }
  for (const PocketState& pocket : pockets_) {
    curvature += pocket.product * pocket.direction;
  }
  return curvature;
}

/// Preconditioned conjugate gradients on the active set and the pockets, from the present u, until
/// the residual is below tolerance as a fill fraction. r_ must be up to date. Returns false if that
/// takes too many iterations.
bool PressureStep::conjugate_gradients(double tolerance, int most_iterations) {
  prepare_multigrid();
  ++count_.solves;
  eliminate_pockets();
  std::ranges::fill(d_, 0.0); // the product reads neighbours outside the active set
  std::ranges::fill(z_, 0.0);
  double rho = 0;
  bool is_done = false;
  for (int iteration = 0; iteration < most_iterations && !is_done; ++iteration) {
    const double rho_new = precondition();
    const double beta = iteration == 0 ? 0 : rho_new / rho;
    rho = rho_new;
    for (const std::int32_t unknown : active_) {
      const std::size_t i = position(unknown);
      d_[i] = z_[i] + beta * d_[i];
    }
    for (PocketState& pocket : pockets_) {
      pocket.direction = pocket.correction + beta * pocket.direction;
    }
    const double curvature = multiply();
    if (!(curvature > 0)) {
      put_pocket_floors();
      return true; // the residual is at rounding level; the caller recomputes and judges it
    }
    const double alpha = rho / curvature;
    double largest = 0;
    for (const std::int32_t unknown : active_) {
      const std::size_t i = position(unknown);
      u_[i] += alpha * d_[i];
      r_[i] -= alpha * q_[i];
      largest = std::max(largest, std::abs(r_[i]) / system_.volume[i]);
    }
    for (PocketState& pocket : pockets_) {
      pocket.shift += alpha * pocket.direction;
      pocket.residual -= alpha * pocket.product;
      largest = std::max(largest, std::abs(pocket.residual) / pocket.cell);
    }
    ++count_.iterations;
    is_done = largest <= tolerance;
  }
  put_pocket_floors();
  return is_done;
}

} // namespace tidemark
