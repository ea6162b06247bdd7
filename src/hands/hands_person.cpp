// A person moves probes and knob. To ask is to show the instruction, which the session does itself; so the
// arrangement counts as asked for at once, and the person says step by step whether the probes touch.
#include "switchwright/hands/hands.hpp"

namespace switchwright {

namespace {

class PersonHands final : public Hands {
 public:
  explicit PersonHands(Loop& loop) : loop_(loop) {}

  /// `done` comes from the loop, not from inside this call: a caller may still be setting itself up.
  void arrange(const Arrangement&, std::function<void()> done, std::function<void(std::string)>) override {
    loop_.post([done = std::move(done), here = std::weak_ptr<int>{here_}] {
      if (!here.expired()) done();
    });
  }
  bool states_contact() const override { return false; }
  bool confirms_itself() const override { return false; }
  std::string name() const override { return "person"; }

 private:
  Loop& loop_;
  std::shared_ptr<int> here_ = std::make_shared<int>();  ///< nobody is called once the hands are gone
};

}  // namespace

std::unique_ptr<Hands> person_hands(Loop& loop) { return std::make_unique<PersonHands>(loop); }

}  // namespace switchwright
