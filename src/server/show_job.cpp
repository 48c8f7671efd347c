#include "show_job.h"

#include <algorithm>
#include <chrono>

#include "parts.h"
#include "provenit/show/carry_on.h"
#include "provenit/show/page.h"

namespace provenit::server {
namespace {

constexpr double kLook_s = 0.1;  // how often wishes are looked at

}  // namespace

struct ShowJob::Work {
  signal::TestPicture picture;
  std::unique_ptr<show::Page> page;
  int first = 0;
  double longest_s = 0;
};

ShowJob::~ShowJob() {
  stop_ = true;
  if (thread_.joinable()) thread_.join();
}

Result<void> ShowJob::start(const signal::PictureRequest& request, int first, bool flashing_confirmed) {
  auto picture = signal::TestPicture::make(request);
  if (!picture) return tl::unexpected(picture.error());
  const auto cautions = signal::cautions_of(signal::showing_of(*picture));
  if (!cautions) return tl::unexpected(cautions.error());
  if (cautions->needs_confirmation() && !flashing_confirmed)
    return tl::unexpected(signal::flashing_refused(*cautions, "confirm_flashing"));
  auto texts = cautions->texts();
  if (!picture->info().caution.empty()) texts.push_back(picture->info().caution);
  texts.emplace_back("Bright signals in a dark room can hurt dark-adapted eyes. Local rules come first.");
  std::thread before;
  {
    const std::lock_guard lock(mutex_);
    if (state_ == "waiting" || state_ == "showing")
      return fail(ErrorCode::conflict, "a picture is being shown", "End it first.");
    before = std::move(thread_);
  }
  if (before.joinable()) before.join();
  auto page =
      show::Page::open({.cautions = texts, .flashing_confirmed = cautions->needs_confirmation() && flashing_confirmed});
  if (!page) return tl::unexpected(page.error());
  if (auto accepted = (*page)->accepts(request.encoding); !accepted) return tl::unexpected(accepted.error());
  stop_ = false;
  (*page)->set_stop([this] { return stop_.load(); });
  const auto key = picture->request().key;
  auto work = std::make_shared<Work>(Work{.picture = std::move(*picture),
                                          .page = std::move(*page),
                                          .first = first,
                                          .longest_s = show::longest_stay_s(*cautions)});
  {
    const std::lock_guard lock(mutex_);
    state_ = "waiting";
    picture_ = key;
    title_ = work->picture.info().title;
    address_ = work->page->address();
    frame_text_.clear();
    cautions_ = std::move(texts);
    frame_ = first;
    frames_ = work->picture.frames();
    longest_s_ = work->longest_s;
    problem_.reset();
    wishes_.clear();
    thread_ = std::thread([this, work] { this->work(*work); });
  }
  publish();
  return {};
}

Result<void> ShowJob::ask(show::Wish wish) {
  const std::lock_guard lock(mutex_);
  if (state_ != "waiting" && state_ != "showing")
    return fail(ErrorCode::conflict, "nothing is being shown", "Start a picture first.");
  if (wish == show::Wish::leave) stop_ = true;
  wishes_.push_back(wish);
  return {};
}

std::optional<show::Wish> ShowJob::next_wish(show::Screen& screen, double longest_s) {
  const auto end = std::chrono::steady_clock::now() + std::chrono::duration<double>(longest_s);
  while (!stop_) {
    {
      const std::lock_guard lock(mutex_);
      if (!wishes_.empty()) {
        const auto wish = wishes_.front();
        wishes_.pop_front();
        return wish;
      }
    }
    if (longest_s > 0 && std::chrono::steady_clock::now() >= end) return std::nullopt;
    if (const auto wish = screen.wish({kLook_s})) return wish;
  }
  return std::nullopt;
}

void ShowJob::work(Work& work) {
  const auto shown = show::carry_on(*work.page, work.picture, {.first = work.first, .longest_s = work.longest_s},
                                    {.next_wish = [&](double longest_s) { return next_wish(*work.page, longest_s); },
                                     .stop = [this] { return stop_.load(); },
                                     .up =
                                         [&](int frame) {
                                           {
                                             const std::lock_guard lock(mutex_);
                                             state_ = "showing";
                                             frame_ = frame;
                                             frame_text_ = work.picture.frame_text(frame);
                                           }
                                           publish();
                                         }});
  work.page.reset();
  {
    const std::lock_guard lock(mutex_);
    state_ = shown ? shown->time_over ? "time_over" : "idle" : "failed";
    address_.clear();
    if (!shown) problem_ = shown.error();
  }
  publish();
}

report::Json ShowJob::state() const {
  using report::Json;
  const std::lock_guard lock(mutex_);
  return {{"state", state_},       {"picture", picture_.empty() ? Json(nullptr) : Json(picture_)},
          {"title", title_},       {"address", address_.empty() ? Json(nullptr) : Json(address_)},
          {"frame", frame_},       {"frames", frames_},
          {"text", frame_text_},   {"longest_s", longest_s_},
          {"cautions", cautions_}, {"problem", problem_ ? problem_json(*problem_, {}) : Json(nullptr)}};
}

void ShowJob::publish() {
  hub_.publish("showing", state().dump());
}

}  // namespace provenit::server
