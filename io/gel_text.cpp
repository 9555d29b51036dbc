#include "io/gel_text.hpp"

#include "io/bleeding_text.hpp"
#include "io/json_values.hpp"
#include "io/number_text.hpp"
#include "io/shop_units.hpp"
#include "io/spoken.hpp"
#include "io/summary.hpp"
#include "io/wording.hpp"

#include <nlohmann/json.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <variant>

namespace tidemark {

namespace {

using Json = nlohmann::ordered_json;

/// So many digits, away from what would not do: up or down.
double rounded_up(double value, int digits) {
  const double unit = std::pow(10, std::floor(std::log10(value)) + 1 - digits);
  return std::ceil(value / unit - 1e-9) * unit;
}

double rounded_down(double value, int digits) {
  const double unit = std::pow(10, std::floor(std::log10(value)) + 1 - digits);
  return std::floor(value / unit + 1e-9) * unit;
}

/// The interval of ages that gives at most twelve rows up to a time [s].
double interval_for(double time) {
  constexpr std::array<double, 12> intervals{1,   5,   10,   30,   60,   120,
                                             300, 600, 1200, 1800, 3600, 7200};
  const auto* const fits =
      std::ranges::find_if(intervals, [&](double interval) { return time <= 12 * interval; });
  return fits == intervals.end() ? time / 12 : *fits;
}

/// Up to the gel, or until it is a hundred times as thick as at first.
double last_age_shown(const Resin& resin) {
  const double gel = gel_age(resin);
  constexpr double day = 86400;
  double age = std::isfinite(gel) ? gel : 60;
  while (!std::isfinite(gel) && age < day && viscosity_at(resin, age) < 100 * resin.viscosity) {
    age *= 2;
  }
  return age;
}

std::string at_condition(const ResinFacts& facts) {
  std::string text;
  if (facts.temperature) {
    text += " at " + rough_number(*facts.temperature - 273.15) + " degC";
  }
  if (facts.catalyst) {
    text += (text.empty() ? " with " : " and ") + rough_number(100 * *facts.catalyst) +
            " % of catalyst";
  }
  return text;
}

double oldest_age(const FillResult& result) {
  return result.age ? result.age->oldest : result.end_time;
}

bool is_inline(const FillProblem& problem) {
  return problem.resin.mixing == Mixing::inline_head;
}

/// What is left to the gel when the part is full, or when its vents have bled [s].
std::string margin_text(const Case& input, const FillResult& result) {
  if (result.verdict != Verdict::filled) {
    return "";
  }
  const double margin = gel_age(input.problem.resin) - oldest_age(result);
  const bool is_of_moment = result.bleeding && !is_inline(input.problem);
  if (!is_of_moment) {
    return margin >= 0 ? ": " + as_minutes(margin) + " to spare" : "";
  }
  if (!result.bleeding->ended_at) {
    const double after_full = margin + result.end_time - result.fill_time.value_or(0);
    return ", " + as_minutes(after_full) + " after the part is full";
  }
  return margin >= 0 ? ": " + as_minutes(margin) + " to spare when the bleeding ends"
                     : ", " + as_minutes(-margin) + " before the bleeding would end";
}

/// Of a part that gels at a time [s] while its vents bleed, a whole sentence.
std::string late_bleeding_text(const Case& input, const FillResult& result, double gels_at) {
  const bool is_of_some = result.bleeding->ended_at && is_inline(input.problem);
  const bool has_gelled = result.bleeding->reason != ShortReason::gel ||
                          (result.age && result.age->first_gel) ||
                          oldest_age(result) >= gel_age(input.problem.resin) * (1 - 1e-9);
  const std::string what = is_of_some   ? "Some of the resin gels"
                           : has_gelled ? "The resin gels"
                                        : "The resin becomes too thick to run out";
  return what + " at " + as_minutes(gels_at) +
         ", before the vents have let out what they should: let them bleed less, or see that it "
         "comes sooner.";
}

std::string catalyst_answer(const Case& input, const CureSearch& search) {
  if (search.catalyst) {
    return "  It fills with at most " + rough_number(100 * rounded_down(*search.catalyst, 2)) +
           " % of catalyst (it is " + rough_number(100 * input.resin.catalyst.value_or(0)) +
           " %).\n";
  }
  return search.catalyst_was_tried && search.is_complete
             ? "  Less catalyst is not enough, down to the lowest level allowed.\n"
             : "";
}

std::string flow_answer(const FillProblem& problem, const CureSearch& search) {
  if (search.flow_factor) {
    const double factor = rounded_up(*search.flow_factor, 2);
    const auto& flow = problem.injector.flow_rate;
    return "  It fills with " + rough_number(factor) + " times the flow" +
           (flow ? ", " + as_litres_per_minute(factor * *flow) : "") +
           ": mind the rating of the pump.\n";
  }
  return search.flow_was_tried && search.is_complete
             ? "  More flow is not enough: at its cap the pump does not give it.\n"
             : "";
}

std::string time_answer(const CureSearch& search, const Resin& resin) {
  if (search.gel_time) {
    const bool is_law = std::holds_alternative<PowerThickening>(resin.thickening);
    return "  It fills if the resin gels no earlier than " +
           as_minutes(rounded_up(*search.gel_time, 3)) + " (it gels at " +
           as_minutes(gel_age(resin)) + ")" +
           (is_law            ? ", its viscosity rising so much later too"
            : thickens(resin) ? ", its viscosity rising as it does now"
                              : "") +
           ".\n";
  }
  const bool is_too_thick = search.without_gel == ShortReason::gel;
  const std::string thick =
      is_too_thick ? "  The resin thickens too fast, whatever its gel time.\n" : "";
  if (search.slowness) {
    const double factor = rounded_up(*search.slowness, 2);
    const bool gels = std::isfinite(gel_age(resin));
    return thick + "  It fills with a resin that ages " + rough_number(factor) + " times slower" +
           (gels ? ", thickening and gelling alike: it then gels at " +
                       as_minutes(factor * gel_age(resin)) + " instead of " +
                       as_minutes(gel_age(resin))
                 : "") +
           ".\n";
  }
  if (!search.is_complete) {
    return thick;
  }
  if (search.without_gel == ShortReason::trapped_air) {
    return "  A later gel is not enough: air is shut in, which needs a vent.\n";
  }
  return is_too_thick ? thick + "  Ageing more slowly is not enough either.\n"
                      : "  A later gel is not enough: the pressure does not suffice.\n";
}

std::string mixing_answer(const CureSearch& search, const Resin& resin) {
  if (search.mixed_before && search.fresh_fill_time) {
    const double age = std::floor(*search.mixed_before / 10) * 10; // younger does as well
    return "  It fills if the batch is mixed later: " +
           (age > 0 ? "no more than " + as_minutes(age) + " before the injection starts"
                    : std::string("just before the injection starts")) +
           " (it is " + as_minutes(resin.mixed_before) + "). Mixed fresh it takes about " +
           as_minutes(*search.fresh_fill_time) + ".\n";
  }
  return search.mixing_was_tried && search.is_complete
             ? "  A batch mixed just before the injection is not enough either.\n"
             : "";
}

} // namespace

std::string resin_at_ages_text(const Case& input) {
  const Resin& resin = input.problem.resin;
  const ResinFacts& facts = input.resin;
  if (!thickens(resin) && !facts.temperature && !facts.catalyst && !(resin.mixed_before > 0)) {
    return "";
  }
  std::string text =
      "Resin" + at_condition(facts) + ": " + as_viscosity(resin.viscosity) + " when fresh";
  text += std::isfinite(gel_age(resin)) ? ", gels when " + as_minutes(gel_age(resin)) + " old.\n"
                                        : ".\n";
  if (resin.mixed_before > 0) {
    text += "  It is " + as_minutes(resin.mixed_before) + " old when the injection starts.\n";
  }
  if (!thickens(resin)) {
    return text;
  }
  const double last = last_age_shown(resin);
  const double interval = interval_for(last);
  std::size_t width = 0;
  std::vector<std::string> ages;
  for (double age = 0; age <= last * (1 + 1e-9) && ages.size() < 14; age += interval) {
    ages.push_back(as_minutes(age));
    width = std::max(width, ages.back().size());
  }
  for (std::size_t row = 0; row < ages.size(); ++row) {
    const double mu = viscosity_at(resin, static_cast<double>(row) * interval);
    text += "  " + std::string(width - ages[row].size(), ' ') + ages[row] + " old  " +
            (std::isfinite(mu) ? as_viscosity(mu) : "gelled") + "\n";
  }
  return text;
}

std::string gel_text(const Case& input, const FillResult& result) {
  const Resin& resin = input.problem.resin;
  const double gel = gel_age(resin);
  if (!result.age) {
    return std::isfinite(gel)
               ? "The resin gels at " + as_minutes(gel) + margin_text(input, result) + ".\n"
               : "";
  }
  const bool has_heat = has_unequal_temperatures(input.problem); // then age alone does not tell
  if (has_heat && !thickens(resin) && !std::isfinite(gel) && !(resin.mixed_before > 0)) {
    return ""; // its age changes nothing
  }
  const std::string oldest = as_minutes(result.age->oldest);
  const std::string mean = as_minutes(result.age->mean) + " in the mean";
  std::string text = "The resin is " + oldest + " old at the end";
  if (is_inline(input.problem)) {
    text = result.bleeding ? "In the full part the resin becomes up to " + oldest + " old, " +
                                 mean + " at the end"
                           : text + " where it is oldest, " + mean;
  }
  if (std::isfinite(gel)) {
    text += "; it gels at " + as_minutes(gel);
    text += has_heat ? " if it keeps the temperature it comes in with" : margin_text(input, result);
  }
  text += ".\n";
  if (thickens(resin) && !has_heat) {
    const double mu = viscosity_at(resin, result.age->oldest);
    text += "Its viscosity is " + as_viscosity(resin.viscosity) + " when fresh" +
            (std::isfinite(mu) ? ", and " + as_viscosity(mu) + " at that age" : "") + ".\n";
  }
  if (const auto& first = result.age->first_gel) {
    text += "The first resin gels at about " + as_minutes(first->time) + ", at " +
            place_text(input, input.problem.mesh.positions[first->node]) + ".\n";
  }
  return text;
}

std::string gel_reason_text(const Case& input, const FillResult& result) {
  const Resin& resin = input.problem.resin;
  const bool has_gelled = !thickens(resin) || (result.heat && result.heat->gel_share >= 1) ||
                          oldest_age(result) >= gel_age(resin) * (1 - 1e-9);
  return has_gelled ? "The resin gels before the part is full."
                    : "The resin becomes so thick that it stands still before the part is full.";
}

std::vector<std::string> gel_warnings(const Case& input, const FillResult& result) {
  std::vector<std::string> warnings;
  const double gel = gel_age(input.problem.resin);
  const double oldest = oldest_age(result);
  const auto gels_at = gels_while_bleeding(input.problem, result);
  if (gels_at) {
    warnings.push_back(late_bleeding_text(input, result, *gels_at));
  }
  const auto& wanted = input.resin.gel_safety;
  const bool has_heat = has_unequal_temperatures(input.problem);
  const double times = has_heat && result.heat ? 1 / result.heat->gel_share : gel / oldest;
  const bool is_close = !gels_at && wanted && std::isfinite(gel) &&
                        result.verdict == Verdict::filled && times < *wanted;
  const bool is_washed = result.bleeding && is_inline(input.problem); // oldest at any moment
  const std::string end = !result.bleeding            ? "when the part is full"
                          : is_washed                 ? "in the full part"
                          : result.bleeding->ended_at ? "when the bleeding ends"
                                                      : "at the end";
  if (is_close && has_heat) {
    warnings.push_back("The gel comes too close: " + end + " some resin has gone " +
                       as_percent(1 / times) + " of its way to the gel, less than the " +
                       rough_number(*wanted) + " times of resin.gel_safety to spare.");
  } else if (is_close) {
    warnings.push_back("The gel comes too close: the oldest resin is " + as_minutes(oldest) +
                       " old " + end + " and gels at " + as_minutes(gel) + ", " +
                       rough_number(times) + " times that, less than the " + rough_number(*wanted) +
                       " of resin.gel_safety.");
  }
  const auto& last = input.resin.oldest_of_table;
  if (last && oldest > *last * (1 + 1e-9)) {
    warnings.push_back("The resin becomes " + as_minutes(oldest) +
                       " old, older than the table resin.viscosity tells, which ends at " +
                       as_minutes(*last) + ": its last line is carried on.");
  }
  return warnings;
}

std::string cure_search_text(const Case& input, const CureSearch& search) {
  const std::string answers = time_answer(search, input.problem.resin) +
                              mixing_answer(search, input.problem.resin) +
                              flow_answer(input.problem, search) + catalyst_answer(input, search);
  std::string text = answers.empty()
                         ? ""
                         : "What was tried to fill it, each alone, all else as it is:\n" + answers;
  if (!search.is_complete) {
    text += "  The search was ended after " +
            counted(static_cast<std::size_t>(search.runs), "filling", "fillings") +
            ": not all was tried.\n";
  }
  return text;
}

Json age_json(const Case& input, const FillResult& result) {
  const double gel = gel_age(input.problem.resin);
  if (!result.age) {
    return {};
  }
  const bool has_heat = has_unequal_temperatures(input.problem);
  const auto& first = result.age->first_gel;
  const auto or_null = [](double value) { return std::isfinite(value) ? Json(value) : Json(); };
  Json json{{"oldest_s", result.age->oldest},
            {"mean_s", result.age->mean},
            {"gel_age_s", or_null(gel)},
            {"gel_margin_s", has_heat ? Json() : or_null(gel - result.age->oldest)},
            {"viscosity_of_oldest_pa_s",
             has_heat ? Json() : or_null(viscosity_at(input.problem.resin, result.age->oldest))},
            {"first_gel", nullptr}};
  if (first) {
    const Vector3& at = input.problem.mesh.positions[first->node];
    json["first_gel"] = {{"position_m", position_json(at)}, {"time_s", first->time}};
  }
  return json;
}

Json cure_search_json(const CureSearch& search) {
  const auto or_null = [](const std::optional<double>& value) {
    return value ? Json(*value) : Json();
  };
  return {{"gel_age_s", or_null(search.gel_time)},
          {"ageing_slower_by", or_null(search.slowness)},
          {"mixed_before_s", or_null(search.mixed_before)},
          {"reason_without_gel", search.without_gel == ShortReason::none
                                     ? Json()
                                     : Json(reason_word(search.without_gel))},
          {"flow_factor", or_null(search.flow_factor)},
          {"catalyst_by_mass_of_resin", or_null(search.catalyst)},
          {"is_complete", search.is_complete},
          {"runs", search.runs}};
}

} // namespace tidemark
