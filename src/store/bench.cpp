#include "provenit/store/bench.h"

#include "bench_impl.h"
#include "open.h"
#include "schema.h"

namespace provenit::store {

using detail::RowReader;

Bench::Bench(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
Bench::Bench(Bench&&) noexcept = default;
Bench& Bench::operator=(Bench&&) noexcept = default;
Bench::~Bench() = default;

Result<Bench> Bench::create(const std::string& path, const std::string& title, const std::string& evaluator,
                            Timestamp now) {
  const auto made = detail::guarded(path, [&] { detail::create_bench(path, title, evaluator, now.unix_s); });
  if (!made) return tl::unexpected(made.error());
  return open(path);
}

Result<Bench> Bench::open(const std::string& path) {
  return detail::guarded(path, [&] {
    detail::HeldFile file(path);
    return Bench(
        std::unique_ptr<Impl>(new Impl{.path = path, .file = std::move(file), .db = detail::open_bench(path)}));
  });
}

Result<void> Bench::copy(const std::string& from, const std::string& to) {
  return detail::guarded(from, [&] {
    const detail::HeldFile file(from);
    detail::copy_bench(from, to);
  });
}

const std::string& Bench::path() const {
  return impl_->path;
}

Result<void> Bench::together(const std::function<Result<void>()>& edit) {
  return impl_->write([&] {
    impl_->together = true;
    const auto over = std::unique_ptr<bool, void (*)(bool*)>(&impl_->together, [](bool* on) { *on = false; });
    if (const auto done = edit(); !done) detail::refuse(done.error());
  });
}

Result<Bench::Title> Bench::title() const {
  return impl_->read([&] {
    SQLite::Statement query(impl_->db, "SELECT title, evaluator, created FROM bench");
    if (!query.executeStep())
      detail::refuse(ErrorCode::invalid_input, "the bench has no title: it is damaged", "Use a copy of it.");
    const RowReader row(query);
    return Title{.title = row.text("title"),
                 .evaluator = row.text("evaluator"),
                 .created = {row.number("created")},
                 .schema_version = detail::stored_version(impl_->db)};
  });
}

}  // namespace provenit::store
