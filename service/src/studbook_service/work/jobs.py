"""The default job table: what each kind of job takes and what it brings after it.

Minutes, people, tools and re-checks are common practice for a practiced crew in the pits, no source; a team's own
override them. Minutes are of one corner unless the title says otherwise, with the jacking and the wheel that the job
needs. Of the 22 minutes that an upper stud takes (28 a lower one), 3 go to reading camber and 5 to toe, as 5 of the 8
of a tie rod do: those are jobs of their own here, so 14, 20 and 3 are left.
"""

from collections.abc import Mapping
from typing import Final

from studbook_service.work.job_spec import JobSpec, parse_jobs

CHANGE_JOBS: Final[Mapping[str, JobSpec]] = parse_jobs("""
upper_stud: upper stud | parts, 14 min, 2 people, lifts, between_days
  tools: jack; two stands; separator; torque wrench; joint wrench
  rechecks: free of play; preload torque; nut torque; cotter
  brings: camber_gauge, toe_check, bump_sheet, swing, wheel_torque
  cautions: lift, taper, preload
lower_stud: lower stud | parts, 20 min, 2 people, lifts, between_days
  tools: jack; two stands; support under the arm; separator; torque wrench; joint wrench
  rechecks: free of play; preload torque; nut torque; cotter
  brings: camber_gauge, toe_check, bump_sheet, swing, heights, scales, wheel_torque
  cautions: lower_joint, lift, taper, preload
preload: joint preload, stud in | preload, 6 min, lifts, between_days
  tools: joint wrench; torque or pull scale
  rechecks: play; cap lock
  brings: wheel_torque
  cautions: preload, lift
housing_screwed: joint housing, screwed or bolted | parts, 35 min, 2 people, lifts, between_days
  tools: jack; two stands; separator; big socket; vise; torque wrench
  rechecks: free of play; preload torque; nut torque; cotter; housing locked
  brings: camber_gauge, toe_check, bump_sheet, swing, heights, scales, wheel_torque
  cautions: lower_joint, lift, taper, preload
housing_pressed: joint housing, pressed | parts, 60 min, 2 people, lifts, shop
  tools: jack; two stands; separator; press; torque wrench
  rechecks: free of play; preload torque; nut torque; cotter
  brings: camber_gauge, toe_check, bump_sheet, swing, heights, scales, wheel_torque
  cautions: lower_joint, lift, taper, preload
upper_arm: upper arm | parts, 20 min, 2 people, lifts
  tools: jack; two stands; wrenches
  rechecks: bind
  brings: camber_gauge, toe_check, bump_sheet, swing, wheel_torque
  cautions: lift, bind
shims: shims (slots, slugs, arm thread) | adjust, 10 min, 2 people
  tools: wrenches
  rechecks: bolt grip length
  brings: camber_gauge, toe_check
lower_pivots: lower arm's pivots | parts, 10 min, 2 people, lifts
  tools: jack; two stands; wrenches
  rechecks: bolt grip length
  brings: camber_gauge, toe_check, bump_sheet, swing, heights, scales, wheel_torque
  cautions: lift, lower_joint
tie_rod: tie rod | tie_rod, 3 min, wheels_on
  tools: wrenches
  rechecks: jam nuts; thread engaged
  brings: toe_check, swing
  cautions: rod_ends
bump_spacer: bump-steer spacer | parts, 12 min, wheels_on
  tools: wrenches
  rechecks: bolt length
  brings: toe_check, bump_sheet, swing
  cautions: rod_ends
spring_coil_over: coil-over spring | parts, 15 min, 2 people, lifts
  tools: jack; two stands; spanner wrench
  rechecks: coil bind
  brings: camber_gauge, toe_check, heights, scales, wheel_torque
  cautions: spring_out, lift, collar
spring_big: big spring | parts, 25 min, 2 people, lifts
  tools: jack; two stands; spring compressor; chain
  rechecks: coil bind; seat
  brings: camber_gauge, toe_check, heights, scales, wheel_torque
  cautions: spring_out, lift
spring_rear: rear spring | parts, 15 min, 2 people, lifts
  tools: jack; two stands
  rechecks: bars
  brings: heights, scales, wheel_torque
  cautions: spring_out, lift, collar
rubber: spring rubber | parts, 3 min, wheels_on
  tools: lever
  brings: heights, scales
perch_coil_over: perch, coil-over | perches, 3 min, wheels_on
  tools: spanner wrench
  rechecks: lock screw
  brings: heights, scales
  cautions: collar
perch_weight_jack: perch, weight-jack bolt | perches, 2 min, wheels_on
  tools: long wrench
  brings: heights, scales
bump_stop: bump stop or packer | parts, 10 min, lifts
  tools: wrenches; jack; two stands
  rechecks: gap; travel
  brings: wheel_torque
  cautions: lift
droop_limit: limit chain or strap | parts, 5 min, wheels_on
  tools: wrench
  rechecks: travel; shock's stroke; axle hang
  cautions: chain
shock: shock | parts, 10 min, lifts
  tools: wrenches; jack; two stands
  rechecks: stroke against travel; chain
  brings: wheel_torque
  cautions: lift, chain
clicks: shock clicks, up to four | parts, 2 min, wheels_on
  rechecks: write down from where they are counted
revalve: shock revalved at the bench | parts, 45 min, lifts, shop
  tools: vise; shock dyno; jack; two stands
  rechecks: gas; curve
  brings: wheel_torque
  cautions: gas, lift
gas: shock's gas | parts, 5 min
  tools: nitrogen; filling gauge
  brings: heights, scales
  cautions: gas
wheel_swap: wheel and tire | tires, 3 min, lifts
  tools: jack; wheel gun
  rechecks: rubbing
  brings: stagger, wheel_torque
  cautions: stagger
wheel_offset: wheel spacer or offset | tires, 5 min, lifts
  tools: jack; wheel gun
  rechecks: wheel studs through the nut by their diameter; fender
  brings: toe_check, scales, wheel_torque
tire_mount: tire mounted on its wheel | tires, 15 min, 2 people, lifts
  tools: tire machine; cage; jack; wheel gun
  rechecks: bead; leak
  brings: stagger, wheel_torque
  cautions: cage, stagger
tire_cut: tire cut | tires, 12 min, wheels_on
  tools: grooving iron; knife
  cautions: cut
pressures: pressures, all four | pressures, 3 min, wheels_on
  tools: gauge; air
  brings: stagger
lateral_bar: lateral bar | parts, 5 min, wheels_on, under
  tools: wrenches
  rechecks: axle centered; roll center; chain
  cautions: rod_ends
trailing_bar: trailing bar | parts, 8 min, wheels_on, under
  tools: wrenches; angle gauge
  rechecks: lead; pinion; birdcage; square
  cautions: rod_ends, driveshaft
torque_link: torque link | parts, 10 min, under
  tools: wrenches
  rechecks: pinion; driveshaft plunge
  cautions: driveshaft, chain
bar: anti-roll bar | bars, 3 min, wheels_on
  tools: wrench
  brings: scales
gear: quick-change gear | parts, 10 min, wheels_on
  tools: wrench; oil pan
  rechecks: oil; lash
  cautions: hot
brake_bias: brake bias | parts, 1 min, wheels_on
  rechecks: pedal
ballast: ballast moved, each piece | parts, 12 min, 2 people, wheels_on
  tools: wrenches
  rechecks: bolts; legal
  brings: scales
  cautions: ballast
""")
"""Jobs that change something."""

CHECKS: Final[Mapping[str, JobSpec]] = parse_jobs("""
inspect: inspect the whole corner after contact, sign | inspect, 15 min, lifts
  tools: light; dial; dye at the shop
  rechecks: sign
  brings: wheel_torque
  cautions: contact, lift
stagger: rollout and stagger, all four | stagger, 5 min, wheels_on
  tools: tape
  rechecks: where it moved: heights, scales, gear
heights: ride heights, all four | heights, 4 min, wheels_on, alone, standing, measures
  tools: tape or blocks
  cautions: dirt_floor
camber_gauge: camber and caster read | camber, 3 min, wheels_on, standing
  tools: camber gauge
toe_check: toe read, both wheels | toe, 5 min, 2 people, wheels_on, alone, standing
  tools: toe plates or strings
  rechecks: steering centered
  cautions: dirt_floor
bump_sheet: bump-steer sheet, one side | bump_steer, 15 min, 2 people, lifts, measures
  tools: bump-steer gauge; jack; two stands
  rechecks: spring out and in again
  brings: wheel_torque
  cautions: spring_out, lift
swing: swing lock to lock, full droop and bump | swing, 4 min, 2 people, lifts
  tools: jack; two stands
  rechecks: stud, hose, wheel and rod clear; steering column
  cautions: bind, lift
scales: scale session, four pads | scales, 25 min, 2 people, wheels_on, alone, standing, measures
  tools: pads; level floor
  rechecks: pressures and stagger first; driver in, steering straight, settled, two readings; bar off, then hooked
  cautions: dirt_floor
wheel_torque: nuts and wheel torque | nuts, 2 min, wheels_on
  tools: torque wrench
  rechecks: every nut touched; lug nuts
  cautions: wheel_nuts
""")
"""Jobs that measure what other jobs moved. Another job brings them; contact at a corner brings `inspect`."""

JOB_KINDS: Final[Mapping[str, JobSpec]] = {**CHANGE_JOBS, **CHECKS}
"""Every kind of job by name; a team's own minutes, people and price go by these names."""
