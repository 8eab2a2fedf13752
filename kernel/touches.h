// The points of rims that press on material, at given poses of the bodies.
#pragma once
#include <vector>

#include "contact.h"

namespace handfast {

struct Touch {
    Vec at, normal, along;  // in the world; normal out of the material; along: moved on the wall since the last step
    double depth;
    int a, b, rim;  // bodies of the points and of the material
};

class Touches {
  public:
    Touches(const std::vector<Shape> &shapes, const std::vector<Rim> &rims, const Vec *points);

    // All that press at `poses`, into `found`; before: where the bodies stood at the step before.
    void find(const std::vector<Pose> &poses, const std::vector<Pose> &before, std::vector<Touch> &found);

  private:
    struct Met {  // a rim and the material it may press on
        int rim;
        Pose into;                      // from the points' shape to the material's
        const Pose &material, &points;  // each in the world
    };
    struct Seen {
        Pose into;
        bool once = false;
    };
    void beside_hole(const Met &, const Shape &opens, const std::vector<Pose> &before, std::vector<Touch> &found);
    double moved_since_seen(size_t rim, const Pose &into, const Pose *beside = nullptr);
    void press(const Met &, Vec point, const std::vector<Pose> &before, std::vector<Touch> &found,
               const Vec *beyond = nullptr) const;

    const std::vector<Shape> &shapes_;
    const std::vector<Rim> &rims_;
    const Vec *points_;
    std::vector<Pose> at_, to_;      // of each shape: to the world and back
    std::vector<Seen> seen_;         // of each rim: where it was when its points were last looked at one by one
    std::vector<double> out_by_;     // of each point: how far it was out of the material then,
    std::vector<double> walled_by_;  // and how far within the wall of the hole that the material opens into, negative beside it
};

}  // namespace handfast
