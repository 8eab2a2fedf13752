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
    Touches(const std::vector<Shape> &shapes, const std::vector<Rim> &rims, const Vec *points)
        : shapes_(shapes), rims_(rims), points_(points) {}

    // All that press at `poses`, into `found`; before: where the bodies stood at the step before.
    void find(const std::vector<Pose> &poses, const std::vector<Pose> &before, std::vector<Touch> &found) const;

  private:
    struct Met {  // a rim and the material it may press on
        int rim;
        Pose into, material, points;  // from the points' shape to the material's; each in the world
    };
    void beside_hole(const Met &, const Shape &opens, const Pose &hole, const std::vector<Pose> &before,
                     std::vector<Touch> &found) const;
    void press(const Met &, Vec point, const std::vector<Pose> &before, std::vector<Touch> &found,
               const Vec *beyond = nullptr) const;

    const std::vector<Shape> &shapes_;
    const std::vector<Rim> &rims_;
    const Vec *points_;
};

}  // namespace handfast
