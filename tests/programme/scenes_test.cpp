// Changes of scene: against invented titles whose changes are known, and single cases that are easily got wrong.
#include "provenit/programme/scenes.h"

#include <gtest/gtest.h>

#include <cstdio>
#include <map>

#include "scenes_title.h"

namespace provenit::programme {
namespace {

using namespace invented;

std::vector<SceneChange> changes_of(const Title& t) {
  return scene_changes(t.frames, kWidth, kHeight);
}

struct Count {
  int truth = 0, hit = 0, told = 0;
  [[nodiscard]] double recall() const { return truth > 0 ? 1.0 * hit / truth : 1; }
};

/// A cut must be found to the frame; a fade or dissolve must start inside the true one.
std::map<ChangeKind, Count> score(int titles, int scenes) {
  std::map<ChangeKind, Count> counts;
  // The limits of the method were chosen on the titles 1 to 12; these are others.
  for (int seed = 101; seed <= 100 + titles; ++seed) {
    const Title t = title(static_cast<unsigned>(seed), scenes);
    const auto found = changes_of(t);
    std::vector<bool> used(found.size());
    for (const auto& c : found) ++counts[c.kind].told;
    for (const auto& truth : t.truth) {
      ++counts[truth.kind].truth;
      for (std::size_t i = 0; i < found.size(); ++i) {
        const auto& c = found[i];
        const bool there = truth.kind == ChangeKind::cut ? c.start == truth.start
                                                         : c.start >= truth.first && c.start <= truth.last + 1;
        if (used[i] || c.kind != truth.kind || !there) continue;
        used[i] = true, ++counts[truth.kind].hit;
        break;
      }
    }
  }
  return counts;
}

TEST(Scenes, ChangesOfInventedTitlesAreFound) {
  auto counts = score(12, 40);
  for (const auto& [kind, c] : counts)
    std::printf("%s: %d true, %d told, precision %.3f, recall %.3f\n", name_of(kind), c.truth, c.told,
                c.told > 0 ? 1.0 * c.hit / c.told : 1.0, c.recall());
  const auto good = [&](ChangeKind kind, double precision, double recall) {
    const Count& c = counts[kind];
    EXPECT_GE(c.hit, precision * c.told) << name_of(kind);
    EXPECT_GE(c.hit, recall * c.truth) << name_of(kind);
    EXPECT_GE(c.truth, 20) << name_of(kind);
  };
  good(ChangeKind::cut, 0.985, 0.985);
  good(ChangeKind::fade, 0.97, 0.97);
  good(ChangeKind::dissolve, 0.9, 0.65);
}

TEST(Scenes, NothingHappensInOneMovingScene) {
  std::mt19937 random(5);
  for (int i = 0; i < 30; ++i) {
    const Texture texture = Texture::random(random);
    Title t;
    for (int f = 0; f < 120; ++f) t.add(texture.at(f, random));
    EXPECT_TRUE(changes_of(t).empty()) << i;
  }
}

Title one_scene_with(unsigned seed, int before, const std::vector<Map>& between, int after) {
  std::mt19937 random(seed);
  const Texture texture = Texture::random(random);
  Title t;
  for (int f = 0; f < before; ++f) t.add(texture.at(f, random));
  for (const auto& m : between) t.add(m);
  for (int f = 0; f < after; ++f) t.add(texture.at(before + static_cast<int>(between.size()) + f, random));
  return t;
}

TEST(Scenes, AFlashIsNoCutWhateverItsSize) {
  for (unsigned seed = 1; seed <= 10; ++seed)
    for (int n = 1; n <= 4; ++n) {
      const std::vector<Map> white(static_cast<std::size_t>(n), field(0.85));
      EXPECT_TRUE(changes_of(one_scene_with(seed, 40, white, 40)).empty()) << seed << ' ' << n;
    }
}

TEST(Scenes, AFlashThatFadesAwayIsNoCut) {
  std::mt19937 random(3);
  const Texture texture = Texture::random(random);
  Title t;
  for (int f = 0; f < 80; ++f) {
    Map m = texture.at(f, random);
    if (f >= 40 && f < 46) m = mixed(m, field(0.8), 0.8 * std::pow(0.5, f - 40));
    t.add(m);
  }
  EXPECT_TRUE(changes_of(t).empty());
}

TEST(Scenes, AFlashOnACutLeavesOneCut) {
  std::mt19937 random(4);
  const Texture a = Texture::random(random), b = Texture::random(random);
  Title t;
  for (int f = 0; f < 40; ++f) t.add(a.at(f, random));
  t.add(field(0.8));
  for (int f = 0; f < 40; ++f) t.add(b.at(f, random));
  const auto found = changes_of(t);
  ASSERT_EQ(found.size(), 1U);
  EXPECT_GE(found[0].start, 40U);
  EXPECT_LE(found[0].start, 41U);
}

TEST(Scenes, BlackBetweenTwoScenesBelongsToTheFirst) {
  std::mt19937 random(6);
  const Texture a = Texture::random(random), b = Texture::random(random);
  Title t;
  for (int f = 0; f < 40; ++f) t.add(a.at(f, random));
  for (int f = 0; f < 10; ++f) t.add(field(0));
  for (int f = 0; f < 40; ++f) t.add(b.at(f, random));
  const auto found = changes_of(t);
  ASSERT_EQ(found.size(), 1U);
  EXPECT_EQ(found[0].kind, ChangeKind::cut);
  EXPECT_EQ(found[0].start, 50U);
}

TEST(Scenes, FadesAtTheEndsOfATitleChangeNoScene) {
  std::mt19937 random(8);
  for (int i = 0; i < 10; ++i) {
    const Texture texture = Texture::random(random);
    Title t;
    for (int f = 0; f < 8; ++f) t.add(field(0));
    for (int f = 0; f < 90; ++f) {
      const double shown = std::min({1.0, (f + 1) / 12.0, (90 - f) / 16.0});
      t.add(mixed(field(0), texture.at(f, random), i % 2 == 0 ? shown : 1));
    }
    for (int f = 0; f < 8; ++f) t.add(field(0));
    EXPECT_TRUE(changes_of(t).empty()) << i;
  }
}

TEST(Scenes, FieldsOfOneLevelAreScenes) {
  Title t;
  for (const double level : {0.2, 0.5, 0.35, 0.7})
    for (int f = 0; f < 20; ++f) t.add(field(level));
  const auto found = changes_of(t);
  ASSERT_EQ(found.size(), 3U);
  for (std::size_t i = 0; i < 3; ++i) EXPECT_EQ(found[i].start, 20 * (i + 1));
}

TEST(Scenes, FewFramesAreTaken) {
  EXPECT_TRUE(scene_changes({}, kWidth, kHeight).empty());
  Title t;
  EXPECT_TRUE(find_scenes(t.frames, kWidth, kHeight).scenes.empty());
  t.add(field(0.3));
  EXPECT_TRUE(changes_of(t).empty());
  const auto list = find_scenes(t.frames, kWidth, kHeight);
  ASSERT_EQ(list.scenes.size(), 1U);
  EXPECT_EQ(list.scenes[0].last, 0U);
}

TEST(Scenes, ScenesCoverTheTitleWithoutGaps) {
  const Title t = title(9, 12);
  const auto list = find_scenes(t.frames, kWidth, kHeight);
  ASSERT_EQ(list.scenes.size(), list.changes.size() + 1);
  EXPECT_EQ(list.scenes.front().first, 0U);
  EXPECT_EQ(list.scenes.back().last, t.frames.size() - 1);
  for (std::size_t i = 1; i < list.scenes.size(); ++i) EXPECT_EQ(list.scenes[i].first, list.scenes[i - 1].last + 1);
}

}  // namespace
}  // namespace provenit::programme
