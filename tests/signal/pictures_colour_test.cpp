// Colours: decoded from their codes by arithmetic apart from the library's and held against the published values.
#include <algorithm>
#include <fstream>
#include <set>
#include <sstream>

#include "pictures_support.h"

namespace provenit::signal {
namespace {

using namespace testing;

Encoding with(Encoding e, Container container, int bits = 10) {
  e.container = container;
  e.bits = bits;
  return e;
}

void expect_xyz(const CodeRgb& code, const Encoding& e, const Xyz& wanted, const std::string& what) {
  const auto got = xyz_of(code, e), step = half_step(code, e);
  EXPECT_NEAR(got.X, wanted.X, step.X + 1e-6 * wanted.Y) << what;
  EXPECT_NEAR(got.Y, wanted.Y, step.Y + 1e-6 * wanted.Y) << what;
  EXPECT_NEAR(got.Z, wanted.Z, step.Z + 1e-6 * wanted.Y) << what;
}

Xyz from_uv(double u, double v, double Y) {
  return {Y * 9 * u / (4 * v), Y, Y * (12 - 3 * u - 20 * v) / (4 * v)};
}

TEST(ColourPictures, SaturationStepsAreEvenInUvAndEquallyBright) {
  // Chromaticities of the primaries: BT.709-6, SMPTE ST 2113, BT.2020-2.
  const double xy[3][3][2] = {{{0.640, 0.330}, {0.300, 0.600}, {0.150, 0.060}},
                              {{0.680, 0.320}, {0.265, 0.690}, {0.150, 0.060}},
                              {{0.708, 0.292}, {0.170, 0.797}, {0.131, 0.046}}};
  const char* names[3] = {"red", "green", "blue"};
  const Encoding encodings[] = {pq10, with(pq10, Container::bt2020, 12), with(sdr10, Container::bt2020, 12)};
  for (const auto& e : encodings)
    for (int gamut = 1; gamut <= 3; ++gamut) {
      const auto p = picture("saturation_steps", {{"gamut", gamut}}, e);
      const double level = p.request().parameters.at("level_cdm2");
      const auto places = places_by_name(p);
      for (int hue = 0; hue < 3; ++hue) {
        const double *c = xy[gamut - 1][hue], d = -2 * c[0] + 12 * c[1] + 3;
        for (int k = 0; k <= 5; ++k) {
          // White: u' 0.197830, v' 0.468320 (D65 0.3127, 0.3290).
          const double share = k / 5.0, u = 0.1978300 + share * (4 * c[0] / d - 0.1978300),
                       v = 0.4683200 + share * (9 * c[1] / d - 0.4683200);
          const auto name = std::string(names[hue]) + ' ' + std::to_string(20 * k) + " %";
          auto wanted = from_uv(u, v, level);
          const auto got = xyz_of(places.at(name).code, e), step = half_step(places.at(name).code, e);
          EXPECT_NEAR(got.Y, level, step.Y) << name << ' ' << gamut;
          EXPECT_NEAR(got.X, wanted.X, step.X + 1e-5 * level) << name << ' ' << gamut;
          EXPECT_NEAR(got.Z, wanted.Z, step.Z + 1e-4 * level) << name << ' ' << gamut;
        }
      }
    }
}

TEST(ColourPictures, PrimariesOfTheContainerAreSingleChannels) {
  for (const auto& [container, gamut] :
       {std::pair{Container::bt709, 1}, {Container::p3_d65, 2}, {Container::bt2020, 3}}) {
    const auto places = places_by_name(picture("saturation_steps", {{"gamut", gamut}}, with(pq10, container)));
    for (const auto& [name, channel] : {std::pair{"red 100 %", 0}, {"green 100 %", 1}, {"blue 100 %", 2}})
      for (int c = 0; c < 3; ++c)
        EXPECT_EQ(places.at(name).code.code[static_cast<std::size_t>(c)] > 64, c == channel) << name;
  }
}

TEST(ColourPictures, LargerGamutsAreRefused) {
  for (const char* key : {"saturation_steps", "hue_steps"}) {
    for (const auto& [container, fits] :
         {std::pair{Container::bt709, 1}, {Container::p3_d65, 2}, {Container::bt2020, 3}})
      for (int gamut = 1; gamut <= 3; ++gamut) {
        const auto made = ask(key, {{"gamut", gamut}}, with(pq10, container));
        EXPECT_EQ(bool(made), gamut <= fits) << key << ' ' << gamut;
      }
    // Ten times the light that blue can have.
    const auto made = ask(key, {{"level_cdm2", 50}, {"gamut", 1}}, sdr10);
    ASSERT_FALSE(made);
    EXPECT_EQ(made.error().where.field, "level_cdm2");
  }
}

TEST(ColourPictures, HuesGoRoundEvenly) {
  const auto e = with(pq10, Container::bt2020, 16);
  const auto p = picture("hue_steps", {{"gamut", 2}, {"steps", 36}, {"saturation_percent", 50}}, e);
  const auto places = p.places(0);
  ASSERT_EQ(places.size(), 36u);
  for (int k = 0; k < 36; ++k) {
    const auto xyz = xyz_of(places[static_cast<std::size_t>(k)].code, e);
    const double du = xyz.u() - 0.1978300, dv = xyz.v() - 0.4683200;
    double degrees = std::atan2(dv, du) * 180 / M_PI;
    if (degrees < -1) degrees += 360;
    EXPECT_NEAR(degrees, 10 * k, 0.05);
    EXPECT_NEAR(xyz.Y, 10.15, 0.01);
    EXPECT_GT(std::hypot(du, dv), 0.02);
  }
  // Hue 0 leaves white along u' alone: there the edge of P3 between blue and red lies at v' = 0.46832.
  const double b[2] = {0.1754386, 0.1578947}, r[2] = {0.4964029, 0.5256205};
  const double edge = b[0] + (r[0] - b[0]) * (0.4683200 - b[1]) / (r[1] - b[1]);
  EXPECT_NEAR(xyz_of(places[0].code, e).u() - 0.1978300, (edge - 0.1978300) / 2, 5e-5);
}

std::vector<std::vector<std::string>> csv(const std::string& name) {
  std::ifstream in(std::string(PROVENIT_SOURCE_DIR) + "/data/reference/" + name);
  std::vector<std::vector<std::string>> out;
  for (std::string line; std::getline(in, line);) {
    if (line.empty() || line[0] == '#') continue;
    std::istringstream fields(line);
    out.emplace_back();
    for (std::string field; std::getline(fields, field, ',');) out.back().push_back(field);
  }
  return out;
}

std::map<int, std::vector<double>> by_wavelength(const std::string& name) {
  std::map<int, std::vector<double>> out;
  const auto rows = csv(name);
  for (std::size_t i = 1; i < rows.size(); ++i) {
    auto& values = out[static_cast<int>(std::stod(rows[i][0]))];
    for (std::size_t k = 1; k < rows[i].size(); ++k) values.push_back(std::stod(rows[i][k]));
  }
  return out;
}

/// Published surfaces by the name of their place, Y of the perfect diffuser = 1. source: CIE 13.3-1995 table 1 under
/// ISO/CIE 11664-2 D65 with the 1931 observer, 5 nm sum 380-780 nm; Munsell renotation, D65 columns of the table.
std::map<std::string, Xyz> published() {
  std::map<std::string, Xyz> out;
  const auto samples = by_wavelength("cie_tcs.csv"), d65 = by_wavelength("illuminant_d65.csv"),
             observer = by_wavelength("cie1931_2deg_1nm.csv");
  for (std::size_t i = 0; i < 14; ++i) {
    Xyz sum{0, 0, 0};
    double white = 0;
    for (int nm = 380; nm <= 780; nm += 5) {
      const double power = d65.at(nm)[0];
      const auto& m = observer.at(nm);
      white += power * m[1];
      const double reflected = power * samples.at(nm)[i];
      sum.X += reflected * m[0];
      sum.Y += reflected * m[1];
      sum.Z += reflected * m[2];
    }
    out["TCS" + std::string(i < 9 ? "0" : "") + std::to_string(i + 1)] = {sum.X / white, sum.Y / white, sum.Z / white};
  }
  const auto rows = csv("surface_chart_munsell.csv");
  for (std::size_t i = 1; i < rows.size(); ++i) {
    const double x = std::stod(rows[i][4]), y = std::stod(rows[i][5]), Y = std::stod(rows[i][6]) / 100;
    out[rows[i][0]] = {Y * x / y, Y, Y * (1 - x - y) / y};
  }
  return out;
}

/// Whether the container holds a colour, by its inverse matrix solved here (Cramer).
bool holds(Container container, const Xyz& c) {
  const auto m = rgb_to_xyz(container);
  const auto det = [](const double(&a)[3][3]) {
    return a[0][0] * (a[1][1] * a[2][2] - a[1][2] * a[2][1]) - a[0][1] * (a[1][0] * a[2][2] - a[1][2] * a[2][0]) +
           a[0][2] * (a[1][0] * a[2][1] - a[1][1] * a[2][0]);
  };
  const double rhs[3] = {c.X, c.Y, c.Z}, whole = det(m.m);
  double least = 1e9, largest = 0;
  for (int k = 0; k < 3; ++k) {
    auto swapped = m;
    for (int i = 0; i < 3; ++i) swapped.m[i][k] = rhs[i];
    least = std::min(least, det(swapped.m) / whole);
    largest = std::max(largest, det(swapped.m) / whole);
  }
  return least >= -0.002 * largest;
}

TEST(ColourPictures, TheSurfaceChartIsThePublishedColours) {
  const auto wanted = published();
  ASSERT_EQ(wanted.size(), 64u);
  for (const auto container : {Container::bt709, Container::p3_d65, Container::bt2020})
    for (const auto& base : {pq10, sdr10, with(sdr10, Container::bt709, 8)}) {
      const auto e = with(base, container, base.bits);
      const auto p = picture("surface_chart", nlohmann::json::object(), e);
      const double white = e.transfer == Transfer::pq ? 203 : 100;
      EXPECT_EQ(p.request().parameters.at("white_cdm2"), white);
      const auto places = places_by_name(p);
      EXPECT_GE(places.size(), 96u) << name_of(container);
      int missing = 0;
      for (const auto& [name, xyz] : wanted) {
        const auto found = places.find(name);
        ASSERT_EQ(found != places.end(), holds(container, xyz)) << name << " in " << name_of(container);
        missing += found == places.end();
        if (found != places.end())
          expect_xyz(found->second.code, e, {white * xyz.X, white * xyz.Y, white * xyz.Z}, name);
      }
      if (container == Container::bt2020) {
        EXPECT_EQ(missing, 0);
        EXPECT_EQ(places.size(), 114u);
      }
    }
}

TEST(ColourPictures, ComputedSurfacesLieHalfWay) {
  const auto e = with(pq10, Container::bt2020, 16);
  const auto places = places_by_name(picture("surface_chart", nlohmann::json::object(), e));
  const auto known = published();
  const auto xy = [](const Xyz& c) { return std::pair{c.X / (c.X + c.Y + c.Z), c.Y / (c.X + c.Y + c.Z)}; };
  const auto full = known.at("5R 7/8");
  const auto half = xyz_of(places.at("computed, half of 5R 7/8").code, e);
  EXPECT_NEAR(half.Y, 203 * full.Y, 0.02);
  EXPECT_NEAR(xy(half).first, (xy(full).first + 0.3127) / 2, 5e-5);
  EXPECT_NEAR(xy(half).second, (xy(full).second + 0.3290) / 2, 5e-5);
  const auto between = xyz_of(places.at("computed, between 5B 5/6 and 5B 5/10").code, e);
  EXPECT_NEAR(xy(between).first, (xy(known.at("5B 5/6")).first + xy(known.at("5B 5/10")).first) / 2, 5e-5);
}

TEST(ColourPictures, TheVolumeSetIsSpreadEvenly) {
  static constexpr int kPatches = 512;
  const auto codes_of = [](int seed) {
    const auto p = picture("volume_set", {{"patches", kPatches}, {"seed", seed}});
    std::vector<CodeRgb> out;
    for (int frame = 0; frame < p.frames(); ++frame) out.push_back(p.places(frame)[0].code);
    return out;
  };
  const auto codes = codes_of(7);
  ASSERT_EQ(codes.size(), static_cast<std::size_t>(kPatches));
  // PQ 10 bits narrow: black 64, 1000 cd/m2 723.
  int octant[8] = {}, bins[3][16] = {};
  std::set<std::array<int, 3>> different;
  for (const auto& c : codes) {
    int which = 0;
    for (std::size_t i = 0; i < 3; ++i) {
      ASSERT_TRUE(c.code[i] >= 64 && c.code[i] <= 723);
      which |= (c.code[i] >= 394) << i;
      ++bins[i][(c.code[i] - 64) * 16 / 660];
    }
    ++octant[which];
    different.insert(c.code);
  }
  EXPECT_EQ(different.size(), codes.size());
  for (const int n : octant) EXPECT_NEAR(n, kPatches / 8, 6);
  for (const auto& channel : bins)
    for (const int n : channel) EXPECT_NEAR(n, kPatches / 16, 5);
  EXPECT_EQ(codes, codes_of(7));
  EXPECT_NE(codes, codes_of(8));
}

}  // namespace
}  // namespace provenit::signal
