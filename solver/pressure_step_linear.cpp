// The linear solve on the wet set: conjugate gradients, with pockets of air as unknowns.
#include "solver/pressure_step.hpp"

#include <algorithm>
#include <cmath>
#include <tuple>
#include <utility>

namespace tidemark {

namespace {

/// Pockets whose air gives way less than the resin round it belong to the multigrid's border [-].
constexpr double soft_pocket = 0.1;
constexpr std::size_t most_bordering = 12;

/// Shift of a pocket's floor and its slope once taken [m3] of resin has come into it: from the gas
/// law, p V constant, with tau = taken / V: impulse (m - 1), m = 1 / (1 - tau) at the end,
/// m = -ln(1 - tau) / tau in the mean, or between the two.
std::pair<double, double> gas_law(const AirPocket& pocket, double taken) {
  const double tau = taken / pocket.volume;
  const double end = 1 / (1 - tau);
  double m = end;
  double slope = end * end;
  if (!pocket.acts_by_end()) {
    const bool is_small = std::abs(tau) < 1e-4; // the terms would cancel
    const double mean = is_small ? 1 + tau / 2 + tau * tau / 3 : -std::log1p(-tau) / tau;
    const double slope_of_mean = is_small ? 0.5 + 2 * tau / 3 : (end - mean) / tau;
    m = std::lerp(mean, end, pocket.weight_of_end);
    slope = std::lerp(slope_of_mean, end * end, pocket.weight_of_end);
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

/// Shift of a pocket that suits what flows into it by the present u of the full unknowns round it:
/// the more it is pressed, the less flows.
void PressureStep::level_pocket(std::size_t k) {
  const AirPocket& air = input_.pockets[k];
  inlets_.clear();
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
        inlets_.emplace_back(u_[position(full)] - input_.floor[j], matrix_.link[position(at)]);
      }
    }
  }
  if (filled >= air.volume) {
    return; // the set has to change first
  }
  double low = 0;
  double high = 1 - 1e-9;
  for (int halving = 0; halving < 40; ++halving) {
    const double tau = (low + high) / 2;
    const double shift = gas_law(air, tau * air.volume).first;
    double taken = filled;
    for (const auto& [height, c] : inlets_) {
      taken += c * std::max(height - shift, 0.0);
    }
    (taken > tau * air.volume ? low : high) = tau;
  }
  pockets_[k].shift = gas_law(air, low * air.volume).first;
  pockets_[k].taken_at = low * air.volume;
  put_floors(air);
}

/// The same of all pockets, those that do not act by their pressure at the end only if wanted.
void PressureStep::level_pockets(bool also_not_by_end) {
  for (std::size_t k = 0; k < pockets_.size(); ++k) {
    if (also_not_by_end || input_.pockets[k].acts_by_end()) {
      level_pocket(k);
    }
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

/// The largest residual of the active set and the pockets, as a fill fraction [-].
double PressureStep::largest_residual() const {
  double largest = 0;
  for (const std::int32_t unknown : active_) {
    const std::size_t i = position(unknown);
    largest = std::max(largest, std::abs(r_[i]) / system_.volume[i]);
  }
  for (const PocketState& pocket : pockets_) {
    largest = std::max(largest, std::abs(pocket.residual) / pocket.cell);
  }
  return largest;
}

/// r = source - A u on the active set. Returns the largest |r_i| / V_i there, an error of a fill
/// fraction, and keeps in rounding_ how small it can be made: the products in a row cancel.
double PressureStep::update_residual() {
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
    largest_term =
        std::max(largest_term, std::abs(matrix_.diagonal[i] * u_[i]) / system_.volume[i]);
  }
  rounding_ = 8 * std::numeric_limits<double>::epsilon() * largest_term;
  linearise_pockets();
  return largest_residual();
}

/// Brings the multigrid's hierarchy to the wet set and to the links that are open, the stiffest
/// pockets being its border: so they cost hardly an iteration.
void PressureStep::prepare_multigrid() {
  bordering_.clear();
  if (!std::exchange(knows_network_, true)) {
    multigrid_.set_up(system_.matrix);
    channels_.set_up(system_.matrix, is_channel_);
  }
  channels_.follow(matrix_, [&](std::int32_t row) { return state_[position(row)] == State::wet; });
  if (active_.empty()) {
    return;
  }
  multigrid_.follow(matrix_, active_);
  const auto stiffness = [&](std::size_t k) {
    return pockets_[k].diagonal * pockets_[k].slope - 1; // of the links against that of the air
  };
  for (std::size_t k = 0; k < pockets_.size(); ++k) {
    if (stiffness(k) > soft_pocket) {
      bordering_.push_back(k);
    }
  }
  if (bordering_.empty()) {
    return;
  }
  std::ranges::sort(bordering_, std::ranges::greater{}, stiffness);
  bordering_.resize(std::min(bordering_.size(), most_bordering));
  if (!multigrid_.set_border(matrix_, border_links(), border_diagonal())) {
    bordering_.clear();
  }
}

/// Those of the pockets' links that lead to the border of the multigrid's matrix, one for each
/// pair.
std::vector<BorderLink> PressureStep::border_links() const {
  std::vector<std::int32_t> place(pockets_.size(), -1);
  for (std::size_t n = 0; n < bordering_.size(); ++n) {
    place[bordering_[n]] = static_cast<std::int32_t>(n);
  }
  std::vector<BorderLink> links;
  for (const PocketLink& link : pocket_links_) {
    if (place[link.pocket] >= 0) {
      links.push_back({link.wet, place[link.pocket], link.conductance});
    }
  }
  const auto ends = [](const BorderLink& link) { return std::pair(link.row, link.unknown); };
  std::ranges::sort(links, {}, ends);
  std::size_t count = 0;
  for (const BorderLink& link : links) {
    if (count > 0 && ends(links[count - 1]) == ends(link)) {
      links[count - 1].conductance += link.conductance;
    } else {
      links[count++] = link;
    }
  }
  links.resize(count);
  return links;
}

Eigen::VectorXd PressureStep::border_diagonal() const {
  Eigen::VectorXd diagonal(static_cast<Eigen::Index>(bordering_.size()));
  for (std::size_t n = 0; n < bordering_.size(); ++n) {
    diagonal[static_cast<Eigen::Index>(n)] = pockets_[bordering_[n]].diagonal;
  }
  return diagonal;
}

/// Changes u in the channels so that the residual is zero there: so it stays, up to rounding, while
/// the preconditioner solves them exactly.
void PressureStep::settle_channels() {
  const std::span<const std::int32_t> rows = channels_.rows();
  in_channels_.clear();
  for (const std::int32_t row : rows) {
    in_channels_.push_back(std::exchange(r_[position(row)], 0.0));
  }
  channels_.solve(in_channels_);
  for (std::size_t n = 0; n < rows.size(); ++n) {
    const std::size_t i = position(rows[n]);
    u_[i] += in_channels_[n];
    for (std::int32_t k = matrix_.first[i]; k < matrix_.first[i + 1]; ++k) {
      const std::int32_t j = matrix_.column[position(k)];
      if (!channels_.has(j)) {
        r_[position(j)] += matrix_.link[position(k)] * in_channels_[n];
      }
    }
  }
  for (const PocketLink& link : pocket_links_) {
    if (channels_.has(link.wet)) {
      pockets_[link.pocket].residual += link.conductance * in_channels_[channels_.place(link.wet)];
    }
  }
}

/// Corrects z so that the product with the matrix leaves nothing of r in the channels.
void PressureStep::correct_channels() {
  const std::span<const std::int32_t> rows = channels_.rows();
  if (rows.empty()) {
    return;
  }
  in_channels_.clear();
  for (const std::int32_t row : rows) {
    const std::size_t i = position(row);
    in_channels_.push_back(r_[i] - matrix_.diagonal[i] * z_[i] + matrix_.gathered(i, z_));
  }
  for (const PocketLink& link : pocket_links_) {
    if (channels_.has(link.wet)) {
      in_channels_[channels_.place(link.wet)] +=
          link.conductance * pockets_[link.pocket].correction;
    }
  }
  channels_.solve(in_channels_);
  for (std::size_t n = 0; n < rows.size(); ++n) {
    z_[position(rows[n])] += in_channels_[n];
  }
}

/// z = M r, and the same for the pockets; returns r . z.
double PressureStep::precondition() {
  for (PocketState& pocket : pockets_) {
    pocket.correction = pocket.residual / pocket.diagonal;
  }
  if (!active_.empty()) { // else there are pockets only
    Eigen::VectorXd border(static_cast<Eigen::Index>(bordering_.size()));
    for (std::size_t n = 0; n < bordering_.size(); ++n) {
      border[static_cast<Eigen::Index>(n)] = pockets_[bordering_[n]].residual;
    }
    multigrid_.apply(matrix_, active_, r_, z_, border);
    for (std::size_t n = 0; n < bordering_.size(); ++n) {
      pockets_[bordering_[n]].correction = border[static_cast<Eigen::Index>(n)];
    }
    correct_channels();
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

/// As near as the tolerance asks for and rounding lets it come.
PressureStep::Goal PressureStep::exact_goal() const {
  return {std::max(0.1 * options_.fill_tolerance, 0.3 * rounding_), 0};
}

/// Preconditioned conjugate gradients on the active set and the pockets, from the present u and its
/// residual, see update_residual, until that is below the goal. Returns false if that takes too
/// many iterations.
bool PressureStep::conjugate_gradients(double residual, Goal goal, int most_iterations) {
  prepare_multigrid();
  if (!channels_.rows().empty()) {
    settle_channels();
    residual = largest_residual();
  }
  left_ = std::max(goal.least, goal.share * residual);
  ++count_.solves;
  std::ranges::fill(d_, 0.0); // the product reads neighbours outside the active set
  std::ranges::fill(z_, 0.0);
  double rho = 0;
  bool is_done = residual <= left_;
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
    is_done = largest <= left_;
  }
  put_pocket_floors();
  return is_done;
}

} // namespace tidemark
