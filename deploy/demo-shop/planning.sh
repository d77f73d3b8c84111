# The last part of the demo's day, sourced by deploy/demo: what is left is planned, and something comes late.

planning() {
    say "what is left is planned, accepted, and planned anew when a part comes late"
    export XDG_STATE_HOME="$home/state"
    as lead shop hours set 'mon-sat 08:00-12:00,12:30-17:30' --from "$(date +%F)"
    told "A plan for what is left" plan propose --schedules 300 --seconds 10 --chart
    as lead plan pin 2 prepare --person Sorrel
    title "Something has moved since it was made, so it is not accepted"
    refused lead plan accept
    refused Moss plan accept
    as lead plan propose --schedules 300 --seconds 10
    as lead plan accept
    told "The accepted plan by person; as a drawing it is in $home/plan.svg" plan show --by person --svg "$home/plan.svg"
    told "What if the lead had one more hand on the next day that the shop is open" plan what-if --hand "Sorrel=$next 08:00..$next 17:30" --schedules 300 --seconds 10
    as Sorrel blocker raise 2 prepare sent-out --until "$much_later 09:00" --note "the head comes back later"
    told "The head comes back later than planned, and the plan says so" plan show --by job
    told "What job 2 is late because of" plan why 2
    told "What its customer is told" plan promise 2
    as lead plan overtime open Sorrel "$much_later 17:30" "$much_later 20:00"
    as lead plan propose --schedules 300 --seconds 10
    as lead plan accept
    told "The plan that counts now" plan show
}
