#include "solver/pressure_step.hpp"

#include "mesh/error.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>

namespace tidemark {

namespace {

/// Of a fill fraction, while the wet set is still sought [-].
constexpr double loose_tolerance = 1e-2;
constexpr int loose_iterations = 3;
constexpr int band_layers = 8;
constexpr int band_sweeps = 24;

constexpr auto head = static_cast<std::size_t>(FlowSystem::head);

std::size_t position(std::int32_t unknown) {
  return static_cast<std::size_t>(unknown);
}

} // namespace

PressureStep::PressureStep(const FlowSystem& system, PressureStepOptions options)
    : system_(system), options_(options), state_(system.size(), State::dry),
      in_border_(system.size(), 0), in_band_(system.size(), 0), u_(system.size(), 0.0),
      before_(system.size(), 0.0), source_(system.size(), 0.0), r_(system.size(), 0.0),
      z_(system.size(), 0.0), d_(system.size(), 0.0), q_(system.size(), 0.0) {
  make_wet(FlowSystem::head); // so that the border is known before the first step
}

void PressureStep::make_wet(std::int32_t unknown) {
  const std::size_t i = position(unknown);
  state_[i] = State::wet;
  for (std::int32_t k = system_.matrix.first[i]; k < system_.matrix.first[i + 1]; ++k) {
    const std::int32_t neighbour = system_.matrix.column[position(k)];
    if (state_[position(neighbour)] == State::dry && !in_border_[position(neighbour)]) {
      in_border_[position(neighbour)] = 1;
      border_.push_back(neighbour);
    }
  }
}

void PressureStep::make_dry(std::int32_t unknown) {
  const std::size_t i = position(unknown);
  state_[i] = State::dry;
  u_[i] = 0;
  if (!in_border_[i]) {
    in_border_[i] = 1;
    border_.push_back(unknown);
  }
}

bool PressureStep::is_at_border(std::int32_t unknown) const {
  const std::size_t i = position(unknown);
  const auto column = system_.matrix.column.begin();
  return state_[i] == State::dry &&
         std::any_of(column + system_.matrix.first[i], column + system_.matrix.first[i + 1],
                     [&](std::int32_t j) { return state_[position(j)] != State::dry; });
}

/// Makes the border afresh from the states.
void PressureStep::rebuild_border() {
  border_.clear();
  for (std::size_t i = 0; i < state_.size(); ++i) {
    const auto unknown = static_cast<std::int32_t>(i);
    in_border_[i] = is_at_border(unknown);
    if (in_border_[i]) {
      border_.push_back(unknown);
    }
  }
}

void PressureStep::collect_active() {
  std::erase_if(border_, [&](std::int32_t unknown) {
    in_border_[position(unknown)] = is_at_border(unknown);
    return !in_border_[position(unknown)];
  });
  active_.clear();
  for (std::size_t i = 0; i < state_.size(); ++i) {
    if (state_[i] == State::wet) {
      active_.push_back(static_cast<std::int32_t>(i));
    }
  }
}

void PressureStep::start(const Drive& drive, std::span<const double> fill, double guess_scale) {
  for (std::size_t i = 0; i < u_.size(); ++i) {
    // The change from the step before last goes on, where there was one.
    const double last = u_[i];
    const double trend = before_[i] > 0 ? last - last_scale_ * before_[i] : 0;
    before_[i] = last;
    u_[i] = guess_scale * std::max(last + trend, 0.0);
    source_[i] = -(1 - fill[i]) * system_.volume[i];
  }
  last_scale_ = guess_scale;
  // The head's neighbours must stand in the border when it is held as well as when it is wet.
  make_wet(FlowSystem::head);
  if (drive.volume) {
    source_[head] += *drive.volume;
  } else {
    state_[head] = State::held;
    u_[head] = *drive.pressure_impulse;
  }
  collect_active();
}

/// Overfull dry unknowns become wet, wet ones that draw from their neighbours dry. Returns whether
/// anything changed.
bool PressureStep::change_set(std::span<const double> fill, double tolerance) {
  std::vector<std::int32_t> overfull;
  for (const std::int32_t unknown : border_) {
    const std::size_t i = position(unknown);
    const double excess = fill[i] - 1 + system_.matrix.gathered(i, u_) / system_.volume[i];
    if (excess > tolerance) {
      overfull.push_back(unknown);
    }
  }
  std::vector<std::int32_t> drawing;
  for (const std::int32_t unknown : active_) {
    const std::size_t i = position(unknown);
    if (i != head && u_[i] * system_.matrix.diagonal[i] < -tolerance * system_.volume[i]) {
      drawing.push_back(unknown);
    }
  }
  std::ranges::for_each(overfull, [&](std::int32_t unknown) { make_wet(unknown); });
  std::ranges::for_each(drawing, [&](std::int32_t unknown) { make_dry(unknown); });
  const bool changed = !overfull.empty() || !drawing.empty();
  if (changed) {
    collect_active();
    keep_one_dry();
  }
  return changed;
}

/// The unknowns near the front: the border and what is wet within band_layers of it, from the
/// inside out.
void PressureStep::collect_band() {
  band_.assign(border_.begin(), border_.end());
  std::size_t layer_begin = 0;
  for (int layer = 0; layer < band_layers; ++layer) {
    const std::size_t layer_end = band_.size();
    for (std::size_t at = layer_begin; at < layer_end; ++at) {
      const std::size_t i = position(band_[at]);
      for (std::int32_t k = system_.matrix.first[i]; k < system_.matrix.first[i + 1]; ++k) {
        const std::int32_t neighbour = system_.matrix.column[position(k)];
        if (state_[position(neighbour)] == State::wet && neighbour != FlowSystem::head &&
            !in_band_[position(neighbour)]) {
          in_band_[position(neighbour)] = 1;
          band_.push_back(neighbour);
        }
      }
    }
    layer_begin = layer_end;
  }
  for (const std::int32_t unknown : band_) {
    in_band_[position(unknown)] = 0;
  }
  std::ranges::reverse(band_);
}

/// Projected Gauss-Seidel sweeps over the band: u_i = max(0, what makes cell i just full). They
/// move the front to where the flow from behind takes it, at a small part of a solve's cost.
void PressureStep::relax_band() {
  collect_band();
  for (int sweep = 0; sweep < band_sweeps; ++sweep) {
    for (std::size_t at = 0; at < band_.size(); ++at) {
      const std::int32_t unknown = band_[at];
      const std::size_t i = position(unknown);
      const double level =
          (source_[i] + system_.matrix.gathered(i, u_)) / system_.matrix.diagonal[i];
      if (level > 0 && state_[i] == State::dry) {
        const std::size_t known = border_.size();
        make_wet(unknown);
        band_.insert(band_.end(), border_.begin() + static_cast<std::ptrdiff_t>(known),
                     border_.end());
      } else if (!(level > 0) && state_[i] == State::wet) {
        make_dry(unknown);
      }
      u_[i] = std::max(level, 0.0);
    }
  }
  collect_active();
  keep_one_dry();
}

/// With the volume given not all can be full: the equations would leave the pressure open.
void PressureStep::keep_one_dry() {
  if (state_[head] == State::held || active_.size() < state_.size()) {
    return;
  }
  make_dry(*std::ranges::min_element(active_, {}, [&](std::int32_t i) { return u_[position(i)]; }));
  collect_active();
}

/// r = source - A u on the active set. Returns the largest |r_i| / V_i there, an error of a fill
/// fraction, and keeps in rounding_ how small it can be made: the products in a row cancel.
double PressureStep::update_residual() {
  double largest = 0;
  double largest_term = 0;
  for (const std::int32_t unknown : active_) {
    const std::size_t i = position(unknown);
    const double own = system_.matrix.diagonal[i] * u_[i];
    r_[i] = source_[i] - own + system_.matrix.gathered(i, u_);
    largest = std::max(largest, std::abs(r_[i]) / system_.volume[i]);
    largest_term = std::max(largest_term, std::abs(own) / system_.volume[i]);
  }
  rounding_ = 8 * std::numeric_limits<double>::epsilon() * largest_term;
  return largest;
}

void PressureStep::prepare_multigrid() {
  const bool with_head = state_[head] == State::wet;
  const bool is_outgrown =
      static_cast<double>(active_.size()) > 1.02 * static_cast<double>(multigrid_size_) ||
      2 * active_.size() < multigrid_size_;
  if (multigrid_size_ == 0 || is_outgrown || multigrid_is_slow_ ||
      with_head != multigrid_with_head_) {
    multigrid_.set_up(system_.matrix, active_);
    multigrid_size_ = active_.size();
    multigrid_with_head_ = with_head;
    multigrid_is_slow_ = false;
    fresh_iterations_ = 0;
  }
}

/// Preconditioned conjugate gradients on the active set, from the present u, until the residual
/// is below tolerance as a fill fraction. r_ must be up to date.
void PressureStep::conjugate_gradients(double tolerance) {
  prepare_multigrid();
  ++count_.solves;
  const Stencil& matrix = system_.matrix;
  std::ranges::fill(d_, 0.0); // the product reads neighbours outside the active set
  std::ranges::fill(z_, 0.0);
  double rho = 0;
  const int most = tolerance > 1e-6 ? loose_iterations : 500;
  for (int iteration = 0; iteration < most; ++iteration) {
    multigrid_.apply(matrix, active_, r_, z_);
    double rho_new = 0;
    for (const std::int32_t unknown : active_) {
      rho_new += r_[position(unknown)] * z_[position(unknown)];
    }
    const double beta = iteration == 0 ? 0 : rho_new / rho;
    rho = rho_new;
    for (const std::int32_t unknown : active_) {
      const std::size_t i = position(unknown);
      d_[i] = z_[i] + beta * d_[i];
    }
    double curvature = 0;
    for (const std::int32_t unknown : active_) {
      const std::size_t i = position(unknown);
      q_[i] = matrix.diagonal[i] * d_[i] - matrix.gathered(i, d_);
      curvature += q_[i] * d_[i];
    }
    if (!(curvature > 0)) {
      return; // the residual is at rounding level; the caller recomputes and judges it
    }
    const double alpha = rho / curvature;
    double largest = 0;
    for (const std::int32_t unknown : active_) {
      const std::size_t i = position(unknown);
      u_[i] += alpha * d_[i];
      r_[i] -= alpha * q_[i];
      largest = std::max(largest, std::abs(r_[i]) / system_.volume[i]);
    }
    ++count_.iterations;
    if (largest <= tolerance) {
      if (tolerance < 1e-6) {
        fresh_iterations_ = fresh_iterations_ == 0 ? iteration + 1 : fresh_iterations_;
        multigrid_is_slow_ = iteration + 1 > fresh_iterations_ + fresh_iterations_ / 2 + 2;
      }
      return;
    }
  }
  if (tolerance > 1e-6) {
    return;
  }
  throw SolveError("conjugate gradients did not converge in " + std::to_string(most) +
                   " iterations");
}

std::span<const double> PressureStep::solve(const Drive& drive, std::span<const double> fill,
                                            double guess_scale) {
  start(drive, fill, guess_scale);
  // While the set still moves, an exact solution for a wrong set is wasted work.
  bool is_tight = false;
  for (int change = 0; change < options_.most_set_changes; ++change) {
    const double tolerance =
        is_tight ? std::max(options_.fill_tolerance, rounding_) : loose_tolerance;
    if (!is_tight) {
      relax_band();
    }
    const bool changed = change_set(fill, tolerance);
    const double residual = active_.empty() ? 0 : update_residual();
    if (!std::isfinite(residual)) {
      break;
    }
    const bool is_solved = residual <= std::max(0.5 * tolerance, rounding_);
    if (!changed && is_solved && is_tight) {
      count_.largest_residual = std::max(count_.largest_residual, residual);
      return u_;
    }
    is_tight = is_tight || (!changed && is_solved);
    if (!active_.empty() && (!is_solved || !changed)) {
      conjugate_gradients(is_tight ? std::max(0.1 * options_.fill_tolerance, 0.3 * rounding_)
                                   : 0.5 * loose_tolerance);
    }
  }
  throw SolveError("the wet set of a step did not settle after " +
                   std::to_string(options_.most_set_changes) + " changes");
}

double PressureStep::outflow_of_head() const {
  return system_.matrix.diagonal[head] * u_[head] - system_.matrix.gathered(head, u_);
}

double PressureStep::border_volume() const {
  double volume = 0;
  for (const std::int32_t unknown : border_) {
    volume += system_.volume[position(unknown)];
  }
  return volume;
}

void PressureStep::advance(const Drive& drive, std::span<double> fill) {
  const auto take_in = [&](std::int32_t unknown) {
    const std::size_t i = position(unknown);
    const double inflow = system_.matrix.gathered(i, u_) - system_.matrix.diagonal[i] * u_[i];
    fill[i] += inflow / system_.volume[i];
  };
  std::ranges::for_each(active_, take_in);
  std::ranges::for_each(border_, take_in);
  if (drive.volume) {
    fill[head] += *drive.volume / system_.volume[head];
  }
}

std::vector<double> PressureStep::completion(std::span<const double> fill) {
  const std::vector<double> kept_u = u_;
  const std::vector<State> kept_state = state_;
  for (std::size_t i = 0; i < u_.size(); ++i) {
    state_[i] = i == head ? State::held : State::wet;
    source_[i] = (1 - fill[i]) * system_.volume[i];
    u_[i] = i == head ? 0 : kept_u[head] - kept_u[i]; // the step before falls off much alike
  }
  collect_active();
  double residual = update_residual();
  const auto goal = [&] { return std::max(0.1 * options_.fill_tolerance, 0.3 * rounding_); };
  for (int pass = 0; pass < 5 && residual > std::max(0.5 * options_.fill_tolerance, rounding_);
       ++pass) {
    conjugate_gradients(goal());
    residual = update_residual();
  }
  count_.largest_residual = std::max(count_.largest_residual, residual);
  std::vector<double> w = u_;
  u_ = kept_u;
  state_ = kept_state;
  rebuild_border();
  collect_active();
  return w;
}

} // namespace tidemark
