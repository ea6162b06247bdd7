#include "page/errands.hpp"

#include <exception>
#include <utility>

#include "switchwright/core/error.hpp"

namespace switchwright::page {

namespace {

constexpr std::size_t most_waiting = 24;

}  // namespace

Errands::Errands(Loop& loop) : loop_(loop), thread_([this] { work(); }) {}

Errands::~Errands() {
  {
    const std::lock_guard lock{mutex_};
    ending_ = true;
    waiting_.clear();
  }
  wake_.notify_one();
  thread_.join();
}

bool Errands::run(std::function<std::function<void()>()> job) {
  {
    const std::lock_guard lock{mutex_};
    if (waiting_.size() >= most_waiting) return false;
    waiting_.push_back(std::move(job));
  }
  wake_.notify_one();
  return true;
}

void Errands::answer(std::function<Response()> make, std::function<void(Response)> reply) {
  const bool taken = run([make = std::move(make), reply]() -> std::function<void()> {
    auto response = std::make_shared<Response>();
    try {
      *response = make();
    } catch (const Error& error) {
      response->status = error.kind() == ErrorKind::usage ? 404 : 500;
      response->body = std::make_shared<const std::string>(std::string{error.what()} + "\n");
    } catch (const std::exception& error) {
      response->status = 500;
      response->body = std::make_shared<const std::string>(std::string{error.what()} + "\n");
    }
    return [reply, response] { reply(std::move(*response)); };
  });
  if (taken) return;
  Response busy;
  busy.status = 503;
  busy.body = std::make_shared<const std::string>("Too much is asked for at once; try again in a moment.\n");
  reply(std::move(busy));
}

void Errands::work() {
  for (;;) {
    std::function<std::function<void()>()> job;
    {
      std::unique_lock lock{mutex_};
      wake_.wait(lock, [this] { return ending_ || !waiting_.empty(); });
      if (ending_) return;
      job = std::move(waiting_.front());
      waiting_.pop_front();
    }
    auto done = job();
    loop_.post([done = std::move(done), here = std::weak_ptr{here_}] {
      if (!here.expired()) done();
    });
  }
}

}  // namespace switchwright::page
