#include "solver/cure_search.hpp"

#include "mesh/error.hpp"

#include <algorithm>
#include <cmath>
#include <variant>

namespace tidemark {

namespace {

class Search {
public:
  Search(const FillProblem& problem, const CureSearchOptions& options)
      : problem_(problem), options_(options) {}

  CureSearch found;

  void more_time() {
    if (gels_apart(problem_)) {
      later_gel();
      if (found.gel_time || !thickens(problem_.resin)) {
        return;
      }
    }
    found.slowness = least(options_.most_slowness, [&](double factor) {
      FillProblem trial = problem_;
      trial.resin.slowness *= factor;
      const auto result = run(trial);
      const bool is_most = factor == options_.most_slowness; // tried first: no gel in sight
      if (result && is_most && found.without_gel == ShortReason::none) {
        found.without_gel = result->reason;
      }
      return result && result->verdict == Verdict::filled;
    });
    const bool is_one_time = std::holds_alternative<PowerThickening>(problem_.resin.thickening) ||
                             !thickens(problem_.resin); // that the ageing stretches with
    if (found.slowness && problem_.resin.gel_time && !problem_.resin.laws.cure && is_one_time) {
      found.gel_time = *found.slowness * gel_age(problem_.resin);
    }
  }

  /// Resin that is mixed later: the oldest batch that will do.
  void later_mixing() {
    const double present = problem_.resin.mixed_before;
    if (problem_.resin.mixing != Mixing::batch || !(present > 0)) {
      return;
    }
    found.mixing_was_tried = true;
    FillProblem trial = problem_;
    const auto at_age = [&](double age) {
      trial.resin.mixed_before = age;
      const auto result = run(trial);
      return result && result->verdict == Verdict::filled ? result->fill_time : std::nullopt;
    };
    found.fresh_fill_time = at_age(0);
    double old = present;
    while (found.fresh_fill_time && found.is_complete &&
           old - found.mixed_before.value_or(0) > options_.precision * present) {
      const double middle = 0.5 * (old + found.mixed_before.value_or(0));
      const bool is_young = at_age(middle).has_value();
      if (found.is_complete) {
        (is_young ? found.mixed_before.emplace(middle) : old) = middle;
      }
    }
    if (found.fresh_fill_time && !found.mixed_before) {
      found.mixed_before = 0;
    }
  }

  void more_flow() {
    const auto injectors = injectors_of(problem_);
    if (std::ranges::none_of(injectors, [](const Injector* i) { return has_flow(*i); })) {
      return;
    }
    found.flow_was_tried = true;
    found.flow_factor = least(options_.most_flow, [&](double factor) {
      FillProblem trial = problem_;
      scale(trial.injector, factor);
      for (Gate& gate : trial.gates) {
        if (gate.own_injector) {
          scale(*gate.own_injector, factor);
        }
      }
      return fills(trial);
    });
  }

  void less_catalyst(const CatalystLevels& levels) {
    if (!(levels.lowest < levels.present * (1 - 1e-9))) {
      return;
    }
    found.catalyst_was_tried = true;
    const auto factor = least(levels.present / levels.lowest, [&](double divisor) {
      FillProblem trial = problem_;
      trial.resin = levels.resin_at(levels.present / divisor);
      return fills(trial);
    });
    if (factor) {
      found.catalyst = levels.present / *factor;
    }
  }

private:
  /// Whether the gel alone can come later: it is not the viscosity's law that tells it.
  static bool gels_apart(const FillProblem& problem) {
    const bool is_told_by_law = std::holds_alternative<PowerThickening>(problem.resin.thickening) ||
                                std::holds_alternative<CureThickening>(problem.resin.thickening);
    return !problem.heat && !is_told_by_law && (!thickens(problem.resin) || problem.resin.gel_time);
  }

  /// One filling without gel tells when it may come; the viscosity rises as it does. Where it
  /// rises, the filling with that gel time is made as well.
  void later_gel() {
    FillProblem trial = problem_;
    trial.resin.gel_time.reset();
    const auto result = run(trial);
    if (!result) {
      return;
    }
    found.without_gel = result->reason;
    if (result->verdict != Verdict::filled) {
      return;
    }
    const double gel = problem_.resin.mixed_before + result->fill_time.value_or(result->end_time);
    trial.resin.gel_time = gel * (1 + 1e-6) / trial.resin.slowness;
    if (!thickens(problem_.resin) || fills(trial)) {
      found.gel_time = gel;
      found.slowness =
          thickens(problem_.resin) ? std::nullopt : std::optional(gel / gel_age(problem_.resin));
    }
  }

  static bool has_flow(const Injector& injector) {
    return injector.flow_rate ||
           std::ranges::any_of(injector.stages, [](const InjectorStage& stage) {
             return stage.flow_rate.has_value();
           });
  }

  static std::vector<const Injector*> injectors_of(const FillProblem& problem) {
    std::vector<const Injector*> result;
    for (const Gate& gate : problem.gates) {
      result.push_back(gate.own_injector ? &*gate.own_injector : &problem.injector);
    }
    return result;
  }

  static void scale(Injector& injector, double factor) {
    const auto times = [&](std::optional<double>& value) {
      value = value ? std::optional(*value * factor) : value;
    };
    times(injector.flow_rate);
    std::ranges::for_each(injector.stages, [&](InjectorStage& stage) { times(stage.flow_rate); });
  }

  /// None if no more runs are left, or the filling was stopped.
  std::optional<FillResult> run(const FillProblem& problem) {
    if (!found.is_complete || found.runs >= options_.most_runs) {
      found.is_complete = false;
      return std::nullopt;
    }
    ++found.runs;
    try {
      FillResult result = fill(problem, options_.fill, [&](const StepReport& /*report*/) {
        return !options_.goes_on || options_.goes_on();
      });
      found.is_complete = result.reason != ShortReason::interrupted;
      return found.is_complete ? std::optional(std::move(result)) : std::nullopt;
    } catch (const SolveError&) {
      return std::nullopt; // a trial that cannot be computed proves nothing
    }
  }

  bool fills(const FillProblem& problem) {
    const auto result = run(problem);
    return result && result->verdict == Verdict::filled;
  }

  /// The least factor above 1 for which it is true, by bisection of its logarithm; none if it is
  /// not even at the most.
  template <class Fills> std::optional<double> least(double most, const Fills& fills_with) {
    if (!fills_with(most)) {
      return std::nullopt;
    }
    double low = 1;
    double high = most;
    while (high > low * (1 + options_.precision) && found.is_complete) {
      const double middle = std::sqrt(low * high);
      const bool is_enough = fills_with(middle);
      if (found.is_complete) {
        (is_enough ? high : low) = middle;
      }
    }
    return high;
  }

  const FillProblem& problem_;
  const CureSearchOptions& options_;
};

} // namespace

CureSearch search_cure(const FillProblem& problem, const CureSearchOptions& options,
                       const std::optional<CatalystLevels>& catalyst) {
  Search search(problem, options);
  search.more_time();
  search.later_mixing();
  search.more_flow();
  if (catalyst) {
    search.less_catalyst(*catalyst);
  }
  return search.found;
}

} // namespace tidemark
