#include "solver/vent_search.hpp"

#include "solver/tolerance.hpp"

#include <algorithm>
#include <cmath>
#include <string>
#include <utility>

namespace tidemark {

namespace {

using GoesOn = std::function<bool()>;

/// Of the nodes that are not full the one that is when all air is let out.
NodeId last_of_dry(const FillResult& vented, const FillResult& sealed) {
  NodeId last;
  for (const NodeId node : sealed.fill_fraction.ids()) {
    const double time = vented.fill_time_field[node];
    if (sealed.fill_fraction[node] < full_fraction && !std::isnan(time) &&
        (!last.valid() || time > vented.fill_time_field[last])) {
      last = node;
    }
  }
  return last;
}

/// The fillings of one search, those in the book instead of done again.
class Trials {
public:
  Trials(FillProblem problem, const FillOptions& options, const GoesOn& goes_on,
         const VentTrialBook& book)
      : problem_(std::move(problem)), pressure_(front_pressure(problem_)), options_(options),
        goes_on_(goes_on), book_(book) {}

  /// The next filling.
  VentTrial run(const std::vector<NodeId>& vents) {
    const std::size_t number = count_++;
    if (book_.known) {
      if (auto known = book_.known(number); known && known->vents == vents) {
        return *std::move(known);
      }
    }
    const FillResult& result = result_with(vents);
    VentTrial trial{vents, result.reason, {}};
    if (vents.empty() && result.verdict == Verdict::filled && !result.last_filled.empty()) {
      trial.next = result.last_filled.front().node;
    } else if (result.reason == ShortReason::trapped_air) {
      trial.next = last_of_dry(result_with({}), result);
    }
    if (book_.done && !was_cut_off_) {
      book_.done(number, trial);
    }
    return trial;
  }

  /// What comes of a filling, without vents with all air let out; done again unless it is at hand.
  const FillResult& result_with(const std::vector<NodeId>& vents) {
    for (const Filling* filling : {&vented_, &sealed_, &filled_}) {
      if (filling->result && filling->vents == vents) {
        return *filling->result;
      }
    }
    Filling& filling = vents.empty() ? vented_ : sealed_;
    if (&filling == &sealed_ && sealed_.result && sealed_.result->verdict == Verdict::filled) {
      filled_ = std::move(sealed_);
    }
    filling = {vents, fill_with(vents)};
    was_cut_off_ = was_cut_off_ || filling.result->reason == ShortReason::interrupted;
    return *filling.result;
  }

  [[nodiscard]] std::size_t count() const { return count_; }
  [[nodiscard]] bool was_cut_off() const { return was_cut_off_; }

private:
  struct Filling {
    std::vector<NodeId> vents;
    std::optional<FillResult> result;
  };

  FillResult fill_with(const std::vector<NodeId>& vents) {
    problem_.vents.clear();
    problem_.cavity_pressure = pressure_;
    problem_.sealed_air = !vents.empty();
    put_vents(problem_, vents);
    return fill(problem_, options_, [this](const StepReport&) { return goes_on_(); });
  }

  FillProblem problem_;
  double pressure_;
  const FillOptions& options_;
  const GoesOn& goes_on_;
  const VentTrialBook& book_;
  Filling vented_; // with all air let out
  Filling sealed_; // the last one else
  Filling filled_; // of those before it the last with which the part filled
  std::size_t count_ = 0;
  bool was_cut_off_ = false;
};

/// Leaves out what can be spared of vents with which the part fills. Without the last it did not.
std::vector<NodeId> without_spare(Trials& trials, std::vector<NodeId> vents) {
  for (std::size_t i = vents.size() - 1; i-- > 0;) {
    std::vector<NodeId> fewer = vents;
    fewer.erase(fewer.begin() + static_cast<std::ptrdiff_t>(i));
    if (trials.run(fewer).reason == ShortReason::none) {
      vents = std::move(fewer);
    }
  }
  return vents;
}

} // namespace

Vent vent_at(const FillProblem& problem, NodeId node, std::size_t number) {
  std::string name = "V" + std::to_string(number + 1);
  while (std::ranges::find(problem.gates, name, &Gate::name) != problem.gates.end()) {
    name += "'";
  }
  return {std::move(name), {node}, front_pressure(problem)};
}

void put_vents(FillProblem& problem, const std::vector<NodeId>& nodes) {
  std::vector<Vent> vents;
  for (std::size_t i = 0; i < nodes.size(); ++i) {
    vents.push_back(vent_at(problem, nodes[i], i));
  }
  problem.vents = std::move(vents);
}

VentedFill sought_vents(FillProblem problem, const FillOptions& options, const GoesOn& goes_on,
                        const VentTrialBook& book) {
  Trials trials(std::move(problem), options, goes_on, book);
  VentedFill found;
  const VentTrial vented = trials.run({});
  if (vented.next.valid()) {
    found.vents.push_back(vented.next);
    VentTrial last = trials.run(found.vents);
    while (last.next.valid() && found.vents.size() < most_vents_sought) {
      found.vents.push_back(last.next);
      last = trials.run(found.vents);
    }
    if (last.reason == ShortReason::none) {
      found.vents = without_spare(trials, std::move(found.vents));
    }
    found.result = trials.result_with(found.vents);
  }
  found.trials = trials.count();
  found.was_cut_off = trials.was_cut_off();
  return found;
}

} // namespace tidemark
