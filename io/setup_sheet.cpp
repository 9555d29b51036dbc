#include "io/setup_sheet.hpp"

#include "io/bleeding_text.hpp"
#include "io/gel_text.hpp"
#include "io/mould_text.hpp"
#include "io/resin_use.hpp"
#include "io/sheet_cautions.hpp"
#include "io/sheet_course.hpp"
#include "io/sheet_limits.hpp"
#include "io/sheet_settings.hpp"
#include "io/sheet_shot.hpp"
#include "io/shop_units.hpp"
#include "io/short_reason.hpp"
#include "io/spoken.hpp"
#include "io/summary.hpp"
#include "io/wording.hpp"

#include <algorithm>

namespace tidemark {

namespace {

// Why not, and what to mind.

std::vector<std::string> forbidden_of(const Shot& shot) {
  const FillResult& result = shot.result;
  std::vector<std::string> reasons;
  if (result.verdict != Verdict::filled) {
    reasons.push_back("The part does not fill. " + short_reason_text(shot.input, result));
    reasons.push_back(result.injected > 0 ? end_text(result) : "No resin flows at all.");
    for (std::size_t i = 0; i < std::min(result.dry_spots.size(), most_places); ++i) {
      const DrySpot& spot = result.dry_spots[i];
      reasons.push_back("Left dry: " + as_small_litres(spot.volume) + " around " +
                        place_text(shot.input, spot.position) + " in region " +
                        name_of(region_name(shot.input, spot.region)) + ".");
    }
  }
  if (opens_mould(result)) {
    const MouldLoad& load = *result.mould_load;
    const std::string shares = shares_of_force(load.at_rest.fibres, load.peak_force);
    reasons.push_back("The mould is pushed open: up to " + as_kilonewtons(load.peak_force) +
                      (shares.empty() ? "" : " (" + shares + ")") + " against the " +
                      as_kilonewtons(load.hold_down_force) + " that hold it shut.");
  }
  return reasons;
}

/// Of a full part.
bool bleeds_as_it_should(const FillProblem& problem, const FillResult& result) {
  return !result.bleeding || (result.bleeding->ended_at && !gels_while_bleeding(problem, result));
}

std::string in_band_text(const Shot& shot, const std::optional<FillResult>& result,
                         const std::string& which) {
  const std::string start =
      "With reinforcement " + rough_number(shot.band.factor) + " times " + which + " permeable, ";
  if (!result) {
    return start + "the filling could not be computed.";
  }
  if (result->verdict != Verdict::filled) {
    return start + "which is within the usual scatter, the part does not fill" +
           (opens_mould(*result) ? ", and the mould is pushed open. " : ". ") +
           short_reason_text(shot.input, *result);
  }
  if (opens_mould(*result)) {
    return start + "the mould is pushed open.";
  }
  const bool bleeds_whole = bleeds_as_it_should(shot.problem(), *result);
  return bleeds_whole || !bleeds_as_it_should(shot.problem(), shot.result)
             ? ""
             : start + "the vents do not let out what they should.";
}

std::vector<std::string> attention_of(const Shot& shot) {
  std::vector<std::string> attention;
  const bool gels = gels_while_bleeding(shot.problem(), shot.result).has_value(); // said below
  if (shot.result.bleeding && !shot.result.bleeding->ended_at && !gels) {
    attention.push_back(bleeding_text(shot.problem(), shot.result));
  }
  for (const auto& [result, which] :
       {std::pair{&shot.band.tighter, "less"}, std::pair{&shot.band.more_open, "more"}}) {
    if (const std::string text = in_band_text(shot, *result, which); !text.empty()) {
      attention.push_back(text);
    }
  }
  for (const auto& more :
       {gel_warnings(shot.input, shot.result), machine_warnings(shot.input, shot.result)}) {
    attention.insert(attention.end(), more.begin(), more.end());
  }
  if (const std::size_t count = shot.input.warnings.size(); count > 0) {
    attention.push_back("The case has " + counted(count, "more warning", "more warnings") +
                        ": tidemark check prints them.");
  }
  if (attention.size() > most_warnings) {
    attention.resize(most_warnings);
    attention.emplace_back("There is more to mind, which the page has no room for: tidemark fill "
                           "tells all.");
  }
  for (std::string& warning : attention) {
    warning = shortened(warning, longest_warning);
  }
  return attention;
}

std::vector<SheetLine> day_lines() {
  return {{"Date", {}},
          {"Operator", {}},
          {"Mould, part no.", {}},
          {"Shot no.", {}},
          {"Resin batch", {}},
          {"Catalyst batch", {}},
          {"Resin, measured", {}, "degC"},
          {"Room", {}, "degC"},
          {"Drum before", {}, "kg"},
          {"Drum after", {}, "kg"},
          {"Stopped at", {}, "min"},
          {"Strokes counted", {}}};
}

} // namespace

SetupSheet setup_sheet(const Case& input, const FillResult& result, const PermeabilityBand& band) {
  const Shot shot{input, result, band};
  SetupSheet sheet;
  sheet.title = shortened(input.title, longest_title);
  sheet.origin = "From " + shortened(input.file.filename().string(), longest_name) +
                 " by tidemark " TIDEMARK_VERSION;
  sheet.day = day_lines();
  sheet.forbidden = forbidden_of(shot);
  sheet.settings = settings_of(input);
  sheet.cautions = sheet_cautions();
  if (!sheet.forbidden.empty()) {
    return sheet;
  }
  sheet.attention = attention_of(shot);
  sheet.quantities = quantities_of(input, result);
  sheet.order = order_of(shot);
  sheet.course = course_of(shot);
  sheet.band = band_text(shot);
  sheet.watch = watch_of(shot);
  sheet.stop = stop_of(shot, resin_use(input, result));
  sheet.abort = abort_of(shot);
  sheet.flush = flush_of(shot);
  return sheet;
}

} // namespace tidemark
