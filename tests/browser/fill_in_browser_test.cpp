// The report of a filling as a person uses it. The part is the strip of cases/strip-with-cap, whose
// answer is known on paper (there): the front passes the middle, x = 0.5 m, at phi A x / Q = 0.8 x
// 1.2e-3 m2 x 0.5 m / 2e-6 m3/s = 240 s, and at the end the pressure falls evenly from 1 bar to 0.
#include "tests/browser/page_use.hpp"
#include "tests/support/program.hpp"

#include <doctest/doctest.h>

#include <string>

using namespace tidemark;
using Json = nlohmann::json;

namespace {

const std::filesystem::path strip =
    std::filesystem::path(TIDEMARK_SOURCE_DIR) / "cases/strip-with-cap/strip.toml";

struct OpenReport {
  TemporaryFolder folder;
  Browser browser;
  explicit OpenReport(const std::filesystem::path& case_file, int width = 1200, int height = 900,
                      const std::vector<std::string>& options = {})
      : browser(options) {
    REQUIRE(run_program(folder.path(), {"fill", case_file.string(), "-o", "out", "--frames", "0",
                                        "--steps", "50", "--quiet"})
                .exit_code <= 1);
    browser.resize(width, height);
    browser.open(folder.path() / "out" / "report.html");
  }
};

} // namespace

TEST_CASE(
    "report in a browser: it opens from the disk, asks for nothing and complains of nothing") {
  OpenReport report(strip);
  const std::vector<std::string>& requests = report.browser.requests();
  REQUIRE(requests.size() == 1); // the page itself
  CHECK(requests.front().starts_with("file://"));
  CHECK(report.browser.complaints() == std::vector<std::string>{});
  CHECK(says(text_of(report.browser, ".headline"), "The part fills. It takes about 9:04 min."));
  CHECK(report.browser.evaluate("document.querySelectorAll('.stage canvas[tabindex]').length") ==
        1);
  CHECK(report.browser.evaluate("document.querySelectorAll('.plot svg').length") == 3);
}

TEST_CASE("report in a browser: the slider moves the front over as much of the part as is filled") {
  OpenReport report(strip);
  leave_only_colours(report.browser);
  const double all = coloured(picture(report.browser));
  REQUIRE(all > 1000);
  // Slider at 240 s of 544 s: half of the strip. It is seen in perspective, from a side.
  set_slider(report.browser, 442);
  CHECK(coloured(picture(report.browser)) / all == doctest::Approx(0.5).epsilon(0.1));
  CHECK(says(text_of(report.browser, ".told"), "4:00 min, 50."));
  set_slider(report.browser, 0);
  CHECK(coloured(picture(report.browser)) < 0.03 * all);
  CHECK(report.browser.complaints() == std::vector<std::string>{});
}

TEST_CASE("report in a browser: a place that is clicked tells its values") {
  OpenReport report(strip);
  const Point middle =
      middle_of(report.browser, ".stage canvas"); // somewhere in the middle of the strip
  report.browser.click(middle.x, middle.y);
  const std::string told = text_of(report.browser, ".picked");
  CAPTURE(told);
  // The pressure is the mean over the last step.
  const double x = number_after(told, "Placex ");
  REQUIRE(x > 400);
  REQUIRE(x < 600); // until there the pump runs at its flow rate
  const double minutes = number_after(told, "Fill time");
  const double seconds =
      number_after(told, "Fill time" + std::to_string(static_cast<int>(minutes)) + ":");
  CHECK(60 * minutes + seconds == doctest::Approx(240 * x / 500).epsilon(0.005));
  CHECK(number_after(told, "Pressure at the end") == doctest::Approx(1 - x / 1000).epsilon(0.03));
  CHECK(says(told, "Regionstrip"));
  CHECK(says(told, "Cavity thickness4.0 mm"));
  CHECK(says(told, "Fibre volume fraction20.0 %"));
  report.browser.click(middle.x, middle.y - 260); // above the part
  CHECK(says(text_of(report.browser, ".picked"), "nothing of the part"));
}

TEST_CASE("report in a browser: keys turn the part, read a place, move the time and play") {
  OpenReport report(strip);
  Browser& browser = report.browser;
  browser.evaluate("document.querySelector('.stage canvas').focus()");
  const Json before = picture(browser);
  browser.press("ArrowLeft");
  const Json turned = picture(browser);
  CHECK(turned != before);
  browser.press("Home");
  CHECK(picture(browser) == before);
  browser.press("Enter");
  CHECK(says(text_of(browser, ".picked"), "Fill time"));

  browser.evaluate("document.querySelector('input[type=range]').focus()");
  browser.press("Home");
  CHECK(says(text_of(browser, ".told"), "0 % filled"));
  browser.press("End");
  CHECK(says(text_of(browser, ".told"), "9:04 min, 100 % filled"));

  browser.evaluate("document.querySelector('.play').focus()");
  browser.press("Enter");
  CHECK(text_of(browser, ".play") == "Pause");
  browser.evaluate(
      "new Promise(done => { const range = document.querySelector('input[type=range]');"
      " const look = () => Number(range.value) > 0 ? done(1)"
      " : requestAnimationFrame(look); look(); })");
  browser.press("Enter");
  CHECK(text_of(browser, ".play") == "Play");
  const double there = std::stod(
      browser.evaluate("document.querySelector('input[type=range]').value").get<std::string>());
  CHECK(there > 0);
  CHECK(there < 1000);

  browser.evaluate("document.querySelector('select').focus()");
  browser.press("ArrowDown");
  CHECK(says(text_of(browser, ".legend"), "Pressure at the end, bar"));
}

TEST_CASE("report in a browser: a plot tells the values where it is pointed at") {
  OpenReport report(strip);
  // Until 288 s the flow is the set 0.12 L/min; at the end 1.2e-6 m3/s = 0.072 L/min.
  const std::string at_the_end = text_of(report.browser, "[data-plot=\"0\"] .plot-values");
  CHECK(number_after(at_the_end, "all gates: ") == doctest::Approx(0.072).epsilon(0.03));
  const Point middle = middle_of(report.browser, "[data-plot=\"0\"] svg");
  report.browser.click(middle.x - 40, middle.y);
  CHECK(says(text_of(report.browser, "[data-plot=\"0\"] .plot-values"), "all gates: 0.120 L/min"));
  CHECK(says(text_of(report.browser, "[data-plot=\"1\"] .plot-values"), "pressure cap: 1.00 bar"));
  CHECK(!says(text_of(report.browser, ".told"), "100 %")); // the picture went along
}

TEST_CASE("report in a browser: a telephone's width needs no scrolling sideways") {
  OpenReport report(strip, 360, 740);
  CHECK(report.browser.evaluate("document.documentElement.scrollWidth") == 360);
  const double width =
      report.browser.evaluate("document.querySelector('.stage canvas').clientWidth");
  CHECK(width > 300);
  CHECK(report.browser.complaints() == std::vector<std::string>{});
}

TEST_CASE("report in a browser: it prints, dark screen or not, with the picture in colour") {
  OpenReport report(strip);
  set_scheme(report.browser, "dark");
  const Json dark = picture(report.browser);
  CHECK(dark[0][0].get<int>() < 80);
  const Json print = report.browser.send("Page.printToPDF", {{"printBackground", true}});
  CHECK(print["data"].get<std::string>().starts_with("JVBERi0")); // "%PDF-"
  CHECK(picture(report.browser)[0][0].get<int>() < 80);           // and the screen is dark again
}

TEST_CASE("report in a browser: without WebGL it says so, and the rest of the page is there") {
  OpenReport report(strip, 1200, 900, {"--disable-3d-apis"});
  CHECK(says(text_of(report.browser, "#panel-0"), "WebGL is missing"));
  CHECK(report.browser.evaluate("document.querySelectorAll('.plot svg').length") == 3);
  CHECK(says(text_of(report.browser, "main"), "pressure_cap"));
}

TEST_CASE("report in a browser: axe-core finds no fault of level A or AA, light or dark") {
  OpenReport report(strip);
  CHECK(faults_for_people(report.browser) == "");
}
